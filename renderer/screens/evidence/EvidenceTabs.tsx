import { Link } from 'wouter';

const tabs = [
  ['/evidence', 'Pack'],
  ['/evidence/energy', 'Energy weight'],
  ['/evidence/baseline', 'Baseline'],
  ['/evidence/retrofit', 'Retrofit quantities'],
] as const;

/** The four views of the auditor’s half. */
export function EvidenceTabs({ here }: { here: (typeof tabs)[number][0] }) {
  return (
    <nav aria-label="Views of the evidence" className="tabs">
      {tabs.map(([path, title]) => (
        <Link key={path} href={path} aria-current={path === here ? 'page' : undefined}>
          {title}
        </Link>
      ))}
    </nav>
  );
}
