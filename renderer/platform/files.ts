/** Saving and reading files, the same way on both shells. */
import { fetchFile } from '../api/transport.ts';
import type { FileName, InputOf } from '../../shared/contract/index.ts';

/** Fetches a file call and hands the bytes to the person as a download. */
export async function saveFile<Name extends FileName>(name: Name, input: InputOf<Name>): Promise<void> {
  const { fileName, blob } = await fetchFile(name, input);
  const url = URL.createObjectURL(blob);
  const link = document.createElement('a');
  link.href = url;
  link.download = fileName;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), 10_000);
}

/** A chosen or dropped file as base64, for a call that takes files. */
export async function readBase64(file: File): Promise<{ name: string; base64: string }> {
  const bytes = new Uint8Array(await file.arrayBuffer());
  let binary = '';
  const step = 0x8000;
  for (let start = 0; start < bytes.length; start += step)
    binary += String.fromCharCode(...bytes.subarray(start, start + step));
  return { name: file.name, base64: btoa(binary) };
}
