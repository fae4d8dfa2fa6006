/** An air state as word, shape and colour: brass and pointing down for low, verdigris and pointing up for high. */
export function AirState({ state, forced = false }: { state: 'low' | 'high' | null; forced?: boolean }) {
  if (state === null) return <span className="quiet">any</span>;
  return (
    <span className={`air air-${state}`}>
      <svg viewBox="0 0 10 10" aria-hidden="true">
        {state === 'low' ? <path d="M1 2h8L5 9z" /> : <path d="M5 1l4 7H1z" />}
      </svg>
      {state}
      {forced ? ', by hand' : ''}
    </span>
  );
}
