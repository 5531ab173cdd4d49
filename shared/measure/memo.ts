/** Keeps what `make` gives for a key, for tables that cost more than a short sound's measurement and never change. */
export function remembered<Key, Value>(make: (key: Key) => Value): (key: Key) => Value {
  const kept = new Map<Key, Value>();
  return (key) => {
    const known = kept.get(key);
    if (known !== undefined) return known;
    const made = make(key);
    kept.set(key, made);
    return made;
  };
}
