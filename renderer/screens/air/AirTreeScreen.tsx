import { useEffect, useMemo, useState } from 'react';
import { flushSync } from 'react-dom';
import { Link } from 'wouter';
import { AirTree } from '../../charts/airTree/AirTree.tsx';
import { layoutTree, levelKeys, pathTo, treeOf } from '../../charts/airTree/layout.ts';
import type { TreeItem } from '../../charts/airTree/layout.ts';
import { PlainTable } from '../../tables/PlainTable.tsx';
import { Button } from '../../ui/Button.tsx';
import { useAddressFields } from '../../ui/address.ts';
import { JobProgress, useJobAtOpening } from '../../ui/JobPanel.tsx';
import { SelectInput, TextInput } from '../../ui/fields.tsx';
import { Empty, Failure } from '../../ui/states.tsx';
import type { OutputOf } from '../../../shared/contract/index.ts';
import { airAt, whatChanges } from '../../../shared/register/air/airAt.ts';
import type { AirOf, Changed } from '../../../shared/register/air/airAt.ts';
import type { AirNetwork } from '../../../shared/register/findings/network.ts';
import { AirItemPanel, belowOf } from './AirItemPanel.tsx';
import { asItIs, conditionsOf, withId } from './conditions.ts';

type Answer = OutputOf<'air.network'>;

function stateText({ state, psi, hasAir }: AirOf): string {
  return hasAir
    ? `${state ?? 'one pressure'}, ${psi === null ? '' : `${Number(psi.toFixed(1))} psi`}`
    : 'no air';
}

function followsText(changed: Changed): string {
  const { wakes, heatOpens, heatShuts, coolOpens, coolShuts, coilOpens, coilShuts } = changed;
  return [
    ...wakes.map(({ role, count }) => `${count} ${role} setpoints wake up`),
    heatOpens > 0 ? `${heatOpens} heating devices open for good: heat` : '',
    heatShuts > 0 ? `${heatShuts} heating devices shut: cold` : '',
    coolOpens > 0 ? `${coolOpens} cooling devices open for good: cold` : '',
    coolShuts > 0 ? `${coolShuts} cooling devices shut` : '',
    coilOpens > 0 ? `${coilOpens} coils open for good: what the water is, heat or cold` : '',
    coilShuts > 0 ? `${coilShuts} coils shut` : '',
  ]
    .filter((word) => word !== '')
    .join('; ');
}

function find(item: TreeItem, key: string): TreeItem | null {
  if (item.key === key) return item;
  for (const child of item.children) {
    const found = find(child, key);
    if (found) return found;
  }
  return null;
}

function Tree({ answer }: { answer: Answer }) {
  const { search, setField: set, setSearch } = useAddressFields();
  const root = useMemo(() => treeOf(answer.nodes), [answer]);
  const network = useMemo<AirNetwork>(
    () => ({ nodes: new Map(answer.nodes.map(({ node }) => [node.id, node])), points: [] }),
    [answer],
  );
  const [closed, setClosed] = useState<ReadonlySet<string>>(() => new Set(levelKeys(root)));
  const [active, setActive] = useState('site');
  const [wanted, setWanted] = useState(1);
  const [tag, setTag] = useState('');
  const [isWhole, setWhole] = useState(false);
  const layout = useMemo(() => layoutTree(root, closed), [root, closed]);
  const conditions = conditionsOf(search, answer.today);
  const asked = search.toString();
  const { air, changes } = useMemo(() => {
    const supposed = airAt(network, conditions);
    const byItself = airAt(network, asItIs(conditions));
    return { air: supposed, changes: whatChanges(network, byItself, supposed) };
    // The address holds every condition.
    // oxlint-disable-next-line react-hooks/exhaustive-deps
  }, [network, asked]);
  const changed = useMemo(() => new Set(changes.map(({ main }) => String(main.id))), [changes]);
  const item = find(root, active) ?? root;
  const own = item.device ? air.get(item.device.node.id) : undefined;

  useEffect(() => {
    // The page is laid out for paper as soon as this returns: the tree must be whole by then.
    const before = (): void => flushSync(() => setWhole(true));
    const after = (): void => setWhole(false);
    window.addEventListener('beforeprint', before);
    window.addEventListener('afterprint', after);
    return () => {
      window.removeEventListener('beforeprint', before);
      window.removeEventListener('afterprint', after);
    };
  }, []);

  const toggle = (key: string): void => {
    const next = new Set(closed);
    if (!next.delete(key)) next.add(key);
    setClosed(next);
    setActive(key);
  };
  const goTo = (key: string): void => {
    setActive(key);
    setWanted((count) => count + 1);
  };
  const wantedNode = answer.nodes.find(({ node }) => node.tag.toLowerCase() === tag.trim().toLowerCase());
  const findTag = (): void => {
    if (!wantedNode) return;
    const key = String(wantedNode.node.id);
    const above = pathTo(root, key).slice(0, -1);
    setClosed(new Set([...closed].filter((one) => !above.includes(one))));
    goTo(key);
  };
  const suppose = (change: { coil?: boolean | null; isLost?: boolean }): void => {
    const id = item.device?.node.id;
    if (id === undefined) return;
    setSearch(
      (current) => {
        if (change.isLost !== undefined) return withId(current, 'lost', id, change.isLost);
        const off = withId(current, 'off', id, change.coil === false);
        return withId(off, 'on', id, change.coil === true);
      },
      { replace: true },
    );
  };
  const byId = useMemo(() => new Map(answer.nodes.map((one) => [one.node.id, one])), [answer]);
  const isSupposed = !conditions.hasPower || conditions.lost.size > 0 || conditions.coils.size > 0;
  return (
    <>
      <div className="controls">
        <TextInput
          label="Date"
          type="date"
          value={conditions.date}
          onChange={(value) => set('date', value)}
        />
        <TextInput
          label="Time"
          type="time"
          value={search.get('time') ?? '12:00'}
          onChange={(value) => set('time', value)}
        />
        <SelectInput
          label="Power"
          value={conditions.hasPower ? '' : 'lost'}
          onChange={(value) => set('power', value)}
          options={[
            { value: '', label: 'on' },
            { value: 'lost', label: 'suppose it is lost' },
          ]}
        />
        <Button
          isDisabled={!isSupposed}
          onPress={() => {
            const next = new URLSearchParams(search);
            for (const name of ['power', 'lost', 'on', 'off']) next.delete(name);
            setSearch(next, { replace: true });
          }}
        >
          Suppose nothing
        </Button>
        <form
          className="controls"
          onSubmit={(event) => {
            event.preventDefault();
            findTag();
          }}
        >
          <TextInput
            label="Find a tag"
            type="search"
            value={tag}
            onChange={setTag}
            problem={tag.trim() !== '' && !wantedNode ? 'no such tag in the tree' : null}
          />
          <Button type="submit" isDisabled={!wantedNode}>
            Show it
          </Button>
        </form>
        <Button
          onPress={() => {
            setClosed(new Set());
            goTo(active);
          }}
        >
          Open all
        </Button>
        <Button
          onPress={() => {
            setClosed(new Set(levelKeys(root)));
            goTo('site');
          }}
        >
          Shut the levels
        </Button>
        <Button onPress={() => window.print()}>Print</Button>
      </div>
      <AirTree
        layout={layout}
        air={air}
        changed={changed}
        active={item.key}
        onActive={(key, isByKey) => (isByKey ? goTo(key) : setActive(key))}
        onToggle={toggle}
        wanted={wanted}
        isWhole={isWhole}
      />
      <p className="quiet">
        Drag to move, wheel to zoom; arrows walk from device to device, Enter opens and shuts. Solid lines
        carry air, dashed ones a pilot, dotted ones a second feed. ▼ low, ▲ high. A main stands at what was
        read of it last, else at its setting; what stands in a branch only a gauge tells.
      </p>
      <div className="columns">
        <AirItemPanel
          item={item}
          own={own}
          below={belowOf(item, network, byId)}
          conditions={conditions}
          onSuppose={suppose}
        />
        <section aria-label="What changes" className="panel">
          <h2>What changes</h2>
          {isSupposed ? null : (
            <p className="quiet">Nothing is supposed: the tree shows the air as it should be then.</p>
          )}
          {isSupposed && changes.length === 0 ? <p>No main changes by that.</p> : null}
          {conditions.hasPower ? null : (
            <p className="notice">
              Without power the compressors stand as well: the mains hold only as long as the receivers last,
              which is minutes. Suppose the stations fail to see what comes then.
            </p>
          )}
          {changes.length > 0 ? (
            <PlainTable
              label="Mains that change"
              titles={['Main', 'By itself', 'Then', 'What follows']}
              rows={changes.map((one) => ({
                key: one.main.id,
                cells: [
                  <button
                    key="go"
                    type="button"
                    className="link-button"
                    onClick={() => goTo(String(one.main.id))}
                  >
                    {one.main.tag}
                  </button>,
                  stateText(one.from),
                  stateText(one.to),
                  followsText(one),
                ],
              }))}
            />
          ) : null}
          {isSupposed ? (
            <p className="quiet">
              A what-if is no permission to switch: season, occupants, freeze lockout and local codes come
              first.
            </p>
          ) : null}
        </section>
      </div>
    </>
  );
}

/** The supply path of the site: what feeds what, which air stands where, and what follows when something changes. */
export function AirTreeScreen() {
  const { job, answer } = useJobAtOpening('air.network');
  return (
    <>
      <p className="crumb">
        <Link href="/register">Register</Link>
      </p>
      <h1>Air tree</h1>
      <JobProgress job={job} />
      {job.error ? <Failure error={job.error} /> : null}
      {answer && answer.nodes.length === 0 ? (
        <Empty title="No device yet">
          <p>Load the register, or add an air station to begin with.</p>
        </Empty>
      ) : null}
      {answer && answer.nodes.length > 0 ? <Tree answer={answer} /> : null}
    </>
  );
}
