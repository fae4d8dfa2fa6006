export type PackReport = {
  sound: boolean;
  problems: { file: string; detail: string }[];
  /** Problems beyond those that are listed. */
  more: number;
  files: number;
  records: number;
  drifts: number;
  head: string;
  entries: number;
};
export function checkPack(folder: string): Promise<PackReport>;
/** Rows of a CSV file by title. Throws where it is no table. */
export function rowsOf(file: string): AsyncGenerator<Record<string, string>>;
