/** What a build, the report and its page say of a place that could not be looked into. */
import type { AwayPlace } from './report.ts';

const WHY: Record<AwayPlace['why'], string> = {
  missing: 'is not there',
  empty: 'is empty',
  unreadable: 'cannot be looked into',
};

export function awaySentence({ file, path, why, files, notShown, sounds, lastSeen }: AwayPlace): string {
  const of = (number: number, what: string): string =>
    `${number.toLocaleString('en')} ${what}${number === 1 ? '' : 's'}`;
  const kept =
    sounds > 0
      ? ` ${of(sounds, 'sound')} from it ${sounds === 1 ? 'stays' : 'stay'} on the page, marked as away.`
      : notShown < files
        ? ' Its sounds lie elsewhere, too, and stay on the page.'
        : '';
  const lost =
    notShown > 0
      ? ` ${of(notShown, 'file')} cannot be shown until then: the program, or how the takes are cut, has changed since.`
      : '';
  const until = file === '' ? 'its folder is no longer named' : 'nothing by that name is in the archive';
  return (
    `${path} ${WHY[why]}; ${of(files, 'file')} lay there on ${lastSeen}.${kept}` +
    ` Connect the drive and build again; what is gone for good leaves the page once ${until}.${lost}`
  );
}
