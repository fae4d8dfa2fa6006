import { Component } from 'react';
import type { ReactNode } from 'react';

/** The last net: says that the screen failed, and offers to load it anew. Nothing that was acknowledged is lost. */
export class ErrorBoundary extends Component<{ children: ReactNode }, { error: Error | null }> {
  override state: { error: Error | null } = { error: null };

  static getDerivedStateFromError(error: Error): { error: Error } {
    return { error };
  }

  override render(): ReactNode {
    const { error } = this.state;
    if (!error) return this.props.children;
    return (
      <main className="page">
        <h1>This screen failed</h1>
        <p role="alert">{error.message}</p>
        <p>Everything that was acknowledged is in the book.</p>
        <button type="button" className="button button-main" onClick={() => location.reload()}>
          Load the screen anew
        </button>
      </main>
    );
  }
}
