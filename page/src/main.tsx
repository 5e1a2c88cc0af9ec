import { render } from 'preact';
import 'uplot/dist/uPlot.min.css';
import './page.css';
import './records/records.css';
import './tape.css';
import { App } from './app';

const place = document.getElementById('page');
if (place) {
  place.textContent = '';
  render(<App />, place);
}
