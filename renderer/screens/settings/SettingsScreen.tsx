import { useState } from 'react';
import { desktopApi } from '../../platform/desktop.ts';
import { saveFile } from '../../platform/files.ts';
import { useCall, useCommand } from '../../api/client.ts';
import { Button } from '../../ui/Button.tsx';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { JobProgress, useJob } from '../../ui/JobPanel.tsx';
import { Failure, Waiting } from '../../ui/states.tsx';
import type { OutputOf } from '../../../shared/contract/index.ts';
import type { PlanningOptions } from '../../../shared/contract/settings.ts';
import { BenchSection } from './BenchSection.tsx';
import { CalendarSection } from './CalendarSection.tsx';
import { DefaultsSection } from './DefaultsSection.tsx';
import { EnergySection } from './EnergySection.tsx';
import { PeopleSection } from './PeopleSection.tsx';

type All = OutputOf<'settings.all'>;

function SiteSection({ all }: { all: All }) {
  const [site, setSite] = useState(all.site);
  const save = useCommand('settings.saveSite');
  return (
    <section aria-label="Site" className="panel">
      <h2>Site</h2>
      <div className="controls">
        <TextInput label="Name" value={site.name} onChange={(name) => setSite({ ...site, name })} />
        <SelectInput
          label="Pressures"
          value={site.pressureUnit}
          onChange={(value) => setSite({ ...site, pressureUnit: value === 'kPa' ? 'kPa' : 'psi' })}
          options={[
            { value: 'psi', label: 'psi' },
            { value: 'kPa', label: 'kPa' },
          ]}
          help="unit of new rows; a device keeps its own"
        />
        <SelectInput
          label="Temperatures"
          value={site.temperatureUnit}
          onChange={(value) => setSite({ ...site, temperatureUnit: value === 'degC' ? 'degC' : 'degF' })}
          options={[
            { value: 'degF', label: '°F' },
            { value: 'degC', label: '°C' },
          ]}
        />
        <TextInput
          label="Time zone"
          value={site.timeZone}
          onChange={(timeZone) => setSite({ ...site, timeZone: timeZone.trim() })}
          help="such as America/Chicago, for the crew’s calendars; empty: local time"
        />
        <Button isPending={save.isPending} onPress={() => save.mutate({ ...site, version: all.siteVersion })}>
          Save the site
        </Button>
      </div>
      {save.error ? <Failure error={save.error} /> : null}
    </section>
  );
}

const planningLabels: Record<keyof PlanningOptions, [string, string]> = {
  earlyDays: ['May be early by, days', 'how long before its due date a task may be done'],
  lateDays: ['Tolerated late, days', 'last day of its window, counted from the due date'],
  walkBuildingMinutes: ['To a building, min', 'once a shift and building'],
  walkLevelMinutes: ['To a level, min', 'once a shift and level'],
  roomAccessMinutes: ['Into a room, min', 'added to every task in a room'],
  switchoverPoints: ['Price of a switchover', 'points, best read as minutes'],
  switchoverOccupiedPoints: ['More in occupied hours', 'points'],
  overtimePointsPerMinute: ['Price of overtime', 'points a minute'],
  walkPointsPerMinute: ['Price of walking', 'points a minute'],
  unevenPointsPerMinute: ['Price of an uneven week', 'points a minute above the even share'],
};

function PlanningSection({ all }: { all: All }) {
  const [text, setText] = useState<Record<string, string>>(() =>
    Object.fromEntries(Object.entries(all.planning).map(([key, value]) => [key, String(value)])),
  );
  const save = useCommand('settings.savePlanning');
  const problems = save.error?.details.problems ?? [];
  const keys = Object.keys(planningLabels) as (keyof PlanningOptions)[];
  return (
    <section aria-label="Planning" className="panel">
      <h2>Planning</h2>
      <div className="form-grid">
        {keys.map((key) => (
          <TextInput
            key={key}
            label={planningLabels[key][0]}
            help={planningLabels[key][1]}
            value={text[key] ?? ''}
            numeric
            onChange={(value) => setText({ ...text, [key]: value })}
            problem={problems.find((problem) => problem.column === key)?.reason ?? null}
          />
        ))}
      </div>
      <Button
        isPending={save.isPending}
        onPress={() =>
          save.mutate({
            ...(Object.fromEntries(keys.map((key) => [key, Number(text[key] || 'NaN')])) as PlanningOptions),
            version: all.planningVersion,
          })
        }
      >
        Save planning
      </Button>
      {save.error && problems.length === 0 ? <Failure error={save.error} /> : null}
    </section>
  );
}

function VerifySection() {
  const job = useJob('records.verify');
  const [report, setReport] = useState<OutputOf<'records.verify'> | null>(null);
  const desktop = desktopApi();
  return (
    <section aria-label="The book" className="panel">
      <h2>The book</h2>
      <div className="actions">
        <Button isPending={job.isRunning} onPress={() => void job.start({}).then(setReport)}>
          Verify the book
        </Button>
        <Button onPress={() => void saveFile('register.export', {})}>Export the register</Button>
        {desktop ? (
          <>
            <Button onPress={() => void desktop.openBook()}>Open another book</Button>
            <Button onPress={() => void desktop.newBook()}>New book</Button>
          </>
        ) : null}
      </div>
      <JobProgress job={job} />
      {job.error ? <Failure error={job.error} /> : null}
      {report ? (
        <div role="status" className={report.sound ? 'verdict verdict-inside' : 'verdict verdict-outside'}>
          <b>{report.sound ? 'sound' : 'not sound'}</b> {report.entries} entries, {report.calibrations}{' '}
          records, {report.readings} readings. Head <code>{report.headHash}</code>
          {report.problems.length > 0 ? (
            <ul>
              {report.problems.map((problem) => (
                <li key={problem.detail}>
                  {problem.check}: {problem.detail}
                </li>
              ))}
            </ul>
          ) : null}
        </div>
      ) : null}
    </section>
  );
}

/** Everything that the owner sets: site, people, calendar, planning, the rules of the bench, defaults. */
export function SettingsScreen() {
  const all = useCall('settings.all', {});
  if (all.error) return <Failure error={all.error} />;
  if (!all.data) return <Waiting what="Reading the settings…" />;
  const { data } = all;
  return (
    <>
      <h1>Settings</h1>
      <SiteSection key={`site${data.siteVersion}`} all={data} />
      <PeopleSection all={data} />
      <CalendarSection all={data} />
      <PlanningSection key={`planning${data.planningVersion}`} all={data} />
      <BenchSection key={`bench${data.benchVersion}`} all={data} />
      <EnergySection />
      <DefaultsSection all={data} />
      <VerifySection />
    </>
  );
}
