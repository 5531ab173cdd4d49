/** JSON without digits that mean nothing: seven significant ones are beyond what any measurement here tells. */
export function roundedJson(value: unknown): string {
  return JSON.stringify(value, (_key, part: unknown) =>
    typeof part === 'number' && !Number.isInteger(part) ? Number(part.toPrecision(7)) : part,
  );
}
