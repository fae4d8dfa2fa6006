/** One branch: a controller with what it moves, as it is known best. */
import { airNetwork } from '../../db/airNetwork.ts';
import { idsAbove, idsBelow } from '../../db/supplyPath.ts';
import { AppError } from '../../shared/contract/errors.ts';
import { bestOf, mainOf } from '../../shared/register/findings/network.ts';
import { calibrationPressure } from '../../shared/trade/proportional.ts';
import type { GroupHandlers } from '../context.ts';

export const airHandlers: GroupHandlers<'air'> = {
  branch: async ({ db }, { deviceId }) => {
    const device = await db.selectFrom('device').select('tag').where('id', '=', deviceId).executeTakeFirst();
    if (!device) throw new AppError('not_found', 'There is no such device in the book.');
    const ids = new Set([...(await idsAbove(db, deviceId)), ...(await idsBelow(db, deviceId))]);
    const network = await airNetwork(db, [...ids]);
    const node = network.nodes.get(deviceId);
    // What is retired moves nothing.
    if (!node) return { tag: device.tag, mainLow: null, mainHigh: null, setpoints: [], actuators: [] };
    const actuators = node.fed.flatMap((id) => {
      const one = network.nodes.get(id);
      return one?.class === 'actuator' ? [one] : [];
    });
    const main = mainOf(network, node);
    const spring =
      actuators.length === 1
        ? { start: bestOf(actuators[0].start).value, end: bestOf(actuators[0].end).value }
        : null;
    return {
      tag: node.tag,
      mainLow: main && bestOf(main.low).value,
      mainHigh: main?.high ? bestOf(main.high).value : null,
      setpoints:
        node.class === 'controller'
          ? node.setpoints.map(({ role, action, gain, unit, basis, outputLow, outputHigh, stated }) => ({
              role,
              action,
              gain,
              unit,
              calibrationPressure: calibrationPressure({ basis, outputLow, outputHigh, spring, stated }),
            }))
          : [],
      actuators: actuators.map(({ id, tag, duty, normal, start, end }) => ({
        id,
        tag,
        duty,
        normal,
        start,
        end,
      })),
    };
  },
};
