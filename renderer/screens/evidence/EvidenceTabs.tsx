import { Tabs } from '../../ui/Tabs.tsx';

const tabs = [
  ['/evidence', 'Pack'],
  ['/evidence/energy', 'Energy weight'],
  ['/evidence/baseline', 'Baseline'],
  ['/evidence/retrofit', 'Retrofit quantities'],
] as const;

/** The four views of the auditor’s half. */
export function EvidenceTabs({ here }: { here: (typeof tabs)[number][0] }) {
  return <Tabs label="Views of the evidence" tabs={tabs} here={here} />;
}
