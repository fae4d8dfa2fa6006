/** Settings that contradict themselves are refused with the field, and change nothing. */
import { describe, expect, it } from 'vitest';
import type { InputOf } from '../../shared/contract/index.ts';
import { sampleService } from '../support/books.ts';

const people: InputOf<'settings.savePerson'> = {
  id: null,
  version: null,
  name: 'Odile Marrack',
  initials: 'OM',
  skills: [],
  active: true,
  shiftIds: [],
  absences: [],
};
const shift: InputOf<'settings.saveShift'> = {
  id: null,
  version: null,
  name: 'Late',
  weekdays: '12345',
  from: '14:00',
  to: '18:00',
  minutes: 240,
  overtimeMinutes: 0,
  occupied: false,
};
describe('settings', () => {
  const cases = [
    [
      'savePerson',
      { ...people, absences: [{ from: '2026-05-02', to: '2026-05-01', reason: '' }] },
      'absences',
    ],
    [
      'savePerson',
      {
        ...people,
        absences: [
          { from: '2026-05-04', to: '2026-05-08', reason: '' },
          { from: '2026-05-01', to: '2026-05-04', reason: '' },
        ],
      },
      'absences',
    ],
    ['saveShift', { ...shift, to: '13:00' }, 'to'],
    ['saveShift', { ...shift, minutes: 241 }, 'minutes'],
  ] as const;
  it.each(cases)('%s refuses %o at %s', async (name, input, column) => {
    const service = await sampleService();
    const before = await service.call('settings.all', {});
    await expect(service.call(`settings.${name}`, input as never)).rejects.toMatchObject({
      code: 'invalid_input',
      details: { problems: [{ column }] },
    });
    expect(await service.call('settings.all', {})).toEqual(before);
  });

  it('takes them when they agree', async () => {
    const service = await sampleService();
    await service.call('settings.savePerson', people);
    await service.call('settings.saveShift', shift);
  });

  it.each([
    [{ toleranceMilli: -2000 }, 'toleranceMilli'],
    [{ toleranceMilli: 0 }, 'toleranceMilli'],
    [{ actionLimitMilli: 900_000_000 }, 'actionLimitMilli'],
    [{ toleranceLeftMilli: 3000 }, 'toleranceLeftMilli'],
    [{ actionLimitMilli: 10 }, 'actionLimitMilli'],
  ])('a default with %o is refused at %s', async (change, column) => {
    const service = await sampleService();
    const [first] = (await service.call('settings.all', {})).classDefaults;
    const { kind: _kind, unit: _unit, ...held } = first;
    await expect(
      service.call('settings.saveClassDefault', { ...held, ...change, why: '' }),
    ).rejects.toMatchObject({
      code: 'invalid_input',
      details: { problems: expect.arrayContaining([expect.objectContaining({ column })]) },
    });
  });

  it('nobody of this book changes nothing', async () => {
    const service = await sampleService();
    await expect(service.call('settings.saveShift', shift, 99_999)).rejects.toMatchObject({
      code: 'invalid_input',
      details: { problems: [{ column: 'person', value: '99999' }] },
    });
  });
});
