import { Tabs } from '../../ui/Tabs.tsx';

const tabs = [
  ['/drift', 'One test point'],
  ['/drift/groups', 'Groups'],
  ['/drift/intervals', 'Intervals'],
] as const;

/** The three views of the drift book. */
export function DriftTabs({ here }: { here: (typeof tabs)[number][0] }) {
  return <Tabs label="Views of the drift book" tabs={tabs} here={here} />;
}
