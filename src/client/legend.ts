/** How a blade is read, shown where a sound will be while none is in hand: three made-up sounds and what they say. */
import { type BladeShape, drawBlade } from './blade.ts';
import type { Palette } from './theme.ts';

const POINTS = 96;

function shape(loudness: (at: number) => number, brightness: number, accent: number): BladeShape {
  const contour = Array.from({ length: POINTS }, (_, point) => 255 * loudness(point / (POINTS - 1)));
  return { contour, brightness, accents: [accent] };
}

const EXAMPLES: readonly { words: readonly [string, string]; shape: BladeShape }[] = [
  { words: ['a hit', 'dark: solid ink'], shape: shape((at) => Math.exp(-4 * at), 0, 0) },
  {
    words: ['a swell', 'brighter: hatched'],
    shape: shape((at) => 0.04 + 0.96 * Math.sin(Math.PI * at ** 1.2) ** 2, 0.5, 0.56),
  },
  {
    words: ['a riser', 'bright: open; the wedge is its accent'],
    shape: shape((at) => (at < 0.86 ? 0.03 + 0.97 * (at / 0.86) ** 2.2 : Math.exp(-22 * (at - 0.86))), 1, 0.86),
  },
];
const FONT = '12.5px "IBM Plex Sans Condensed", "Arial Narrow", sans-serif';

export function drawLegend(context: CanvasRenderingContext2D, width: number, palette: Palette): void {
  const column = Math.min(236, (width - 14) / EXAMPLES.length);
  for (const [at, { words, shape: example }] of EXAMPLES.entries()) {
    const x = 14 + at * column;
    drawBlade(
      context,
      example,
      { x, y: 50, width: Math.min(150, column - 40), height: 38, wedge: 8 },
      { ink: palette.soft, ground: palette.paper },
    );
    context.fillStyle = palette.soft;
    context.font = `600 ${FONT}`;
    context.fillText(words[0], x, 92);
    context.font = `400 ${FONT}`;
    context.fillText(words[1], x, 109);
  }
}
