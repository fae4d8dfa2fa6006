import { Link } from 'wouter';
import { FileLoader } from '../../ui/FileLoader.tsx';

/** Loads a register from files: everything or nothing. */
export function LoadScreen() {
  return (
    <>
      <p className="crumb">
        <Link href="/register">Register</Link>
      </p>
      <h1>Load a register</h1>
      <p className="lead">
        One CSV file or several: buildings, levels, rooms, devices and setpoints, in any order, one row each.
        All rows are loaded or none; every problem is listed with its file, line and column. Loading a file
        again changes nothing.
      </p>
      <FileLoader jobName="register.load" what="register files" />
    </>
  );
}
