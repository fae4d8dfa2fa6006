import { QueryClientProvider } from '@tanstack/react-query';
import { StrictMode } from 'react';
import { createRoot } from 'react-dom/client';
import { App } from './App.tsx';
import { ErrorBoundary } from './ErrorBoundary.tsx';
import { queryClient } from './api/client.ts';
import { takeTokenFromAddress } from './api/transport.ts';
import './styles/base.css';
import './styles/screens.css';
import './print/print.css';

takeTokenFromAddress();
const root = document.getElementById('root');
if (root)
  createRoot(root).render(
    <StrictMode>
      <ErrorBoundary>
        <QueryClientProvider client={queryClient}>
          <App />
        </QueryClientProvider>
      </ErrorBoundary>
    </StrictMode>,
  );
