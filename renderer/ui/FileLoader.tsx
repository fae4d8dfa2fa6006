/** Chooses or drops CSV files, declares their style, tries them dry, loads them: for the register and for readings. */
import { useState } from 'react';
import type { DragEvent } from 'react';
import { readBase64 } from '../platform/files.ts';
import { Button } from './Button.tsx';
import { SelectInput } from './fields.tsx';
import { JobProgress, useJob } from './JobPanel.tsx';
import { Failure, ProblemList } from './states.tsx';
import type { FileStyle, LoadReport } from '../../shared/contract/register.ts';

const startStyle: FileStyle = {
  pressure: 'psi',
  temperature: 'degF',
  dates: 'ymd',
  decimals: 'point',
  encoding: 'utf-8',
};

export function FileLoader({ jobName, what }: { jobName: 'register.load' | 'records.load'; what: string }) {
  const [files, setFiles] = useState<File[]>([]);
  const [style, setStyle] = useState<FileStyle>(startStyle);
  const [report, setReport] = useState<LoadReport | null>(null);
  const [isOver, setOver] = useState(false);
  const job = useJob(jobName);

  function choose(list: FileList | null): void {
    setFiles([...(list ?? [])]);
    setReport(null);
  }

  function drop(event: DragEvent): void {
    event.preventDefault();
    setOver(false);
    choose(event.dataTransfer.files);
  }

  async function run(dryRun: boolean): Promise<void> {
    setReport(null);
    const result = await job.start({ files: await Promise.all(files.map(readBase64)), style, dryRun });
    setReport(result as LoadReport | null);
  }

  const pick = <K extends keyof FileStyle>(
    key: K,
    label: string,
    options: readonly { value: FileStyle[K]; label: string }[],
  ) => (
    <SelectInput
      label={label}
      value={style[key]}
      onChange={(value) => setStyle((current) => ({ ...current, [key]: value }))}
      options={options}
    />
  );

  return (
    <section className="loader">
      <div
        className={`drop ${isOver ? 'drop-over' : ''}`}
        onDragOver={(event) => {
          event.preventDefault();
          setOver(true);
        }}
        onDragLeave={() => setOver(false)}
        onDrop={drop}
      >
        <label htmlFor="load-files">Choose {what}, or drop files here</label>
        <input
          id="load-files"
          type="file"
          accept=".csv,text/csv,text/plain"
          multiple
          onChange={(event) => choose(event.target.files)}
        />
        {files.length > 0 ? (
          <ul>
            {files.map((file) => (
              <li key={file.name}>
                {file.name}, {Math.max(1, Math.round(file.size / 1024))} kB
              </li>
            ))}
          </ul>
        ) : null}
      </div>
      <fieldset className="controls">
        <legend>How the files are written</legend>
        {pick('pressure', 'Pressures', [
          { value: 'psi', label: 'psi' },
          { value: 'kPa', label: 'kPa' },
        ])}
        {pick('temperature', 'Temperatures', [
          { value: 'degF', label: '°F' },
          { value: 'degC', label: '°C' },
        ])}
        {pick('dates', 'Dates', [
          { value: 'ymd', label: '2026-04-09' },
          { value: 'dmy', label: '09.04.2026 (day first)' },
          { value: 'mdy', label: '04/09/2026 (month first)' },
        ])}
        {pick('decimals', 'Decimals', [
          { value: 'point', label: '13.5' },
          { value: 'comma', label: '13,5' },
        ])}
        {pick('encoding', 'Encoding', [
          { value: 'utf-8', label: 'UTF-8' },
          { value: 'windows-1252', label: 'Windows-1252' },
        ])}
      </fieldset>
      <div className="actions">
        <Button isDisabled={files.length === 0} isPending={job.isRunning} onPress={() => void run(true)}>
          Try without changing anything
        </Button>
        <Button
          tone="main"
          isDisabled={files.length === 0}
          isPending={job.isRunning}
          onPress={() => void run(false)}
        >
          Load
        </Button>
      </div>
      <JobProgress job={job} />
      {job.error ? <Failure error={job.error} /> : null}
      {report ? (
        <section aria-label="What came of it" className="report">
          <p role="status">
            <b>{report.message}</b>
          </p>
          {report.problems.length > 0 ? <ProblemList problems={report.problems} /> : null}
        </section>
      ) : null}
    </section>
  );
}
