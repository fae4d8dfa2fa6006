/** What the site pays for energy, and the weather it reckons by. */
import type { BookDb } from '../../db/book.ts';
import { readSetting } from '../../db/settings.ts';
import { defaultEnergySettings } from '../../shared/contract/energy.ts';
import { OWN_WEATHER } from '../../shared/energy/kinds.ts';
import type { EnergySettings } from '../../shared/contract/energy.ts';
import { publicNormals } from '../../shared/energy/normals.ts';
import type { Weather } from '../../shared/energy/weather.ts';

export async function energySettingsOf(db: BookDb): Promise<{ value: EnergySettings; version: number }> {
  const held = await readSetting<EnergySettings>(db, 'energy', defaultEnergySettings);
  return { value: { ...defaultEnergySettings, ...held.value }, version: held.version };
}

/** The weather that was loaded; null without. */
export async function ownWeatherOf(db: BookDb): Promise<{ value: Weather | null; version: number }> {
  return readSetting<Weather | null>(db, 'weather', null);
}

/** The weather of the settings; null where none is chosen, or the chosen one is not there. */
export async function weatherOf(db: BookDb, { weather }: EnergySettings): Promise<Weather | null> {
  if (weather === OWN_WEATHER) return (await ownWeatherOf(db)).value;
  return publicNormals.find(({ id }) => id === weather) ?? null;
}
