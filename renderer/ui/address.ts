/** View state in the address, so that a reload, a second window and a printout agree. */
import { useSearchParams } from 'wouter';

/** The address's fields, and a way to set one: an empty value takes it out. A step back leaves the screen. */
export function useAddressFields(): {
  search: URLSearchParams;
  setField: (name: string, value: string) => void;
  setSearch: ReturnType<typeof useSearchParams>[1];
} {
  const [search, setSearch] = useSearchParams();
  const setField = (name: string, value: string): void =>
    setSearch(
      (current) => {
        const next = new URLSearchParams(current);
        if (value === '') next.delete(name);
        else next.set(name, value);
        return next;
      },
      { replace: true },
    );
  return { search, setField, setSearch };
}
