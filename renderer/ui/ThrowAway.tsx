import { useState } from 'react';
import { Button } from './Button.tsx';

/** Throws a draft away at the second press: the first asks. What is typed meanwhile takes the question back. */
export function ThrowAway({ isOf, onPress }: { isOf: unknown; onPress: () => void }) {
  const [asked, setAsked] = useState<unknown>(null);
  if (asked !== isOf) return <Button onPress={() => setAsked(isOf)}>Throw the draft away</Button>;
  return (
    <>
      <Button onPress={onPress}>Yes, throw away what is typed</Button>
      <Button tone="quiet" onPress={() => setAsked(null)}>
        Keep it
      </Button>
    </>
  );
}
