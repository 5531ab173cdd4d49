/** Small settings of the person, kept in the browser under one versioned key; in memory where storage is refused. */

const KEY = 'takeshelf.settings.1';
let memory: Record<string, string> | null = null;

function all(): Record<string, string> {
  if (memory) return memory;
  let read: unknown = null;
  try {
    read = JSON.parse(localStorage.getItem(KEY) ?? 'null');
  } catch {
    // Storage refused or its content damaged: start from nothing.
  }
  memory = { ...(typeof read === 'object' ? (read as Record<string, string> | null) : null) };
  return memory;
}

export function readSetting(name: string): string | null {
  return all()[name] ?? null;
}

export function writeSetting(name: string, value: string): void {
  const settings = all();
  settings[name] = value;
  try {
    localStorage.setItem(KEY, JSON.stringify(settings));
  } catch {
    // The setting then lasts as long as the page does, which is all a browser without storage can give.
  }
}
