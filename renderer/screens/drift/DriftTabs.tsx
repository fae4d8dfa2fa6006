import { Link } from 'wouter';

const tabs = [
  ['/drift', 'One test point'],
  ['/drift/groups', 'Groups'],
  ['/drift/intervals', 'Intervals'],
] as const;

/** The three views of the drift book. */
export function DriftTabs({ here }: { here: (typeof tabs)[number][0] }) {
  return (
    <nav aria-label="Views of the drift book" className="tabs">
      {tabs.map(([path, title]) => (
        <Link key={path} href={path} aria-current={path === here ? 'page' : undefined}>
          {title}
        </Link>
      ))}
    </nav>
  );
}
