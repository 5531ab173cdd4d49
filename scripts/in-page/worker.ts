/** The worker itself: one order, news of it, and it is thrown away. */
import type { MeasureNews, MeasureOrder } from '../../shared/measure-here.ts';
import { carryOut } from './measure-here.ts';

interface WorkerScope {
  onmessage: ((event: { data: MeasureOrder }) => void) | null;
  postMessage(news: MeasureNews): void;
}

const scope = globalThis as unknown as WorkerScope;
scope.onmessage = ({ data }) => {
  void carryOut(data, (news) => scope.postMessage(news));
};
