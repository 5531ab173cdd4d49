/** The one script of all pages. Data scripts find `takeshelf.receive` before the page is there to use it. */
import { startFind } from './find-page.ts';
import { startReadingPage } from './reading-page.ts';
import { startReport } from './report-page.ts';
import { applyTheme } from './theme.ts';

export { receive } from './receive.ts';

applyTheme();
document.addEventListener('DOMContentLoaded', () => {
  const { page } = document.body.dataset;
  if (page === 'report') startReport();
  else if (page === 'measured') startReadingPage('How it is measured');
  else startFind();
});
