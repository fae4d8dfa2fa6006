import { Link } from 'wouter';
import { FileLoader } from '../../ui/FileLoader.tsx';

/** Loads past readings from files: everything or nothing. */
export function ReadingsScreen() {
  return (
    <>
      <p className="crumb">
        <Link href="/drift">Drift</Link>
      </p>
      <h1>Load past readings</h1>
      <p className="lead">
        One row a test point and visit: date, person, outcome, and either the readings or the error. All rows
        are loaded or none. A record that is in the book already is never changed by a file.
      </p>
      <FileLoader jobName="records.load" what="readings files" />
    </>
  );
}
