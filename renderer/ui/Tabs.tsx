import { useEffect, useRef } from 'react';
import { Link } from 'wouter';

/** A tab was followed: the screen that it opens has the focus on the same tab. */
let isFollowed = false;

/** The views of one topic, each at its own address. */
export function Tabs<Path extends string>({
  label,
  tabs,
  here,
}: {
  label: string;
  tabs: readonly (readonly [path: Path, title: string])[];
  here: Path;
}) {
  const nav = useRef<HTMLElement>(null);
  useEffect(() => {
    if (isFollowed) nav.current?.querySelector<HTMLElement>('[aria-current="page"]')?.focus();
    isFollowed = false;
  }, []);
  return (
    <nav aria-label={label} className="tabs" ref={nav}>
      {tabs.map(([path, title]) => (
        <Link
          key={path}
          href={path}
          aria-current={path === here ? 'page' : undefined}
          onClick={() => {
            isFollowed = path !== here;
          }}
        >
          {title}
        </Link>
      ))}
    </nav>
  );
}
