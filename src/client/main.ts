/** The one script of both pages. Data scripts find `takeshelf.receive` before the page is there to use it. */
import { startFind } from './find-page.ts';
import { startReport } from './report-page.ts';
import { applyTheme } from './theme.ts';

export { receive } from './receive.ts';

applyTheme();
document.addEventListener('DOMContentLoaded', () => {
  if (document.body.dataset.page === 'report') startReport();
  else startFind();
});
