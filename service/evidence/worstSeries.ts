/** The series of drift that a report shows: those nearest to their tolerance or beyond it. */

type SeriesCells = Readonly<Record<string, string>>;

/** The greatest of what goes by, without keeping all of it. */
function greatest(most: number) {
  let kept: { share: number; row: SeriesCells }[] = [];
  const cut = (): void => {
    kept = kept.toSorted((a, b) => b.share - a.share).slice(0, most);
  };
  return {
    see: (share: number, row: SeriesCells): void => {
      kept.push({ share, row });
      if (kept.length > 4 * most) cut();
    },
    rows: (): SeriesCells[] => {
      cut();
      return kept.map(({ row }) => row);
    },
  };
}

/** Kept while all of them go by. A dew point is off on one side only. */
export function worstSeries(most: number) {
  const [setpoints, others] = [greatest(most), greatest(most)];
  const counts = { all: 0, outside: 0 };
  return {
    see: (row: SeriesCells): void => {
      counts.all += 1;
      if (row.standing === '') return;
      const standing = Number(row.standing);
      const share =
        (row.test_point === 'dew point' ? Math.max(0, standing) : Math.abs(standing)) / Number(row.tolerance);
      if (share > 1) counts.outside += 1;
      (row.test_point === 'setpoint' ? setpoints : others).see(share, row);
    },
    result: () => ({ ...counts, setpoints: setpoints.rows(), others: others.rows() }),
  };
}
