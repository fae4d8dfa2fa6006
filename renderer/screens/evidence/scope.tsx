/** Which part of the site: kept in the address, so that a reload and a printout agree. */
import { useCall } from '../../api/client.ts';
import { useAddressFields } from '../../ui/address.ts';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { sentence } from '../../ui/format.ts';
import type { PackScope } from '../../../shared/contract/packScope.ts';
import { classesAmong, deviceClassLabels } from '../../../shared/trade/words.ts';

/** The scope that the address names. Tags are separated by blanks or commas. */
export function scopeOfAddress(search: URLSearchParams): PackScope {
  const text = (name: string): string | null => search.get(name) || null;
  const tags = (search.get('tags') ?? '').split(/[\s,]+/u).filter((tag) => tag !== '');
  return {
    building: text('building'),
    level: text('level'),
    main: text('main'),
    class: classesAmong([search.get('class') ?? ''])[0] ?? null,
    tags: tags.length === 0 ? null : tags,
    from: text('from'),
    to: text('to'),
  };
}

export function ScopeFields({ has }: { has: 'all' | 'place' }) {
  const { search, setField } = useAddressFields();
  const facets = useCall('register.facets', {});
  const levels = facets.data?.levels ?? [];
  const building = search.get('building') ?? '';
  const buildings = [...new Set(levels.map((one) => one.building))].toSorted();
  const codes = [
    ...new Set(levels.filter((one) => building === '' || one.building === building).map((one) => one.code)),
  ].toSorted();
  const any = { value: '', label: 'all' };
  return (
    <>
      <SelectInput
        label="Building"
        value={building}
        onChange={(value) => setField('building', value)}
        options={[any, ...buildings.map((value) => ({ value, label: value }))]}
      />
      {has === 'all' ? (
        <SelectInput
          label="Level"
          value={search.get('level') ?? ''}
          onChange={(value) => setField('level', value)}
          options={[any, ...codes.map((value) => ({ value, label: value }))]}
        />
      ) : null}
      <SelectInput
        label="Main"
        value={search.get('main') ?? ''}
        onChange={(value) => setField('main', value)}
        options={[any, ...(facets.data?.mains ?? []).map(({ tag }) => ({ value: tag, label: tag }))]}
      />
      {has === 'all' ? (
        <>
          <SelectInput
            label="Class"
            value={search.get('class') ?? ''}
            onChange={(value) => setField('class', value)}
            options={[
              any,
              ...(facets.data?.classes ?? []).map((one) => ({
                value: one.class,
                label: sentence(deviceClassLabels[one.class]),
              })),
            ]}
          />
          <TextInput
            label="Tags"
            value={search.get('tags') ?? ''}
            onChange={(value) => setField('tags', value)}
            placeholder="all, or TC-N1-01 TC-N1-02"
          />
        </>
      ) : null}
      <TextInput
        label="From"
        type="date"
        value={search.get('from') ?? ''}
        onChange={(value) => setField('from', value)}
      />
      <TextInput
        label="To"
        type="date"
        value={search.get('to') ?? ''}
        onChange={(value) => setField('to', value)}
      />
    </>
  );
}
