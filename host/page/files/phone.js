// The phone: digits, what to do, one large button.

import { Announcer, told } from './announce.js';
import { leads, Link, linkHeard, linkWords } from './link.js';
import { judged, text, verdictClass } from './drawn.js';
import { Ear } from './sound.js';
import { listSteps, Steps } from './steps.js';
import { withoutHead } from './walk.js';

const at = (id) => document.getElementById(id);
const remembered = (name, otherwise) => localStorage.getItem(name) ?? otherwise;

let theme = remembered('theme', 'dark');
let units = remembered('units', 'mm');
const link = new Link('phone', units, show);
const ear = new Ear(link, (says) => text(at('heard'), says));
const announcer = new Announcer((says) => text(at('in-words'), says));

// Where the program can go back on something: this word undoes.
const LABELS = { redo: 'Undo: take again', no: 'No', yes: 'Yes' };

function label({ word, does }) {
  return LABELS[word] ?? does.charAt(0).toUpperCase() + does.slice(1);
}

function showLink() {
  text(at('link'), linkWords(link));
  at('link').className = `link ${link.fresh ? 'within' : 'outside'}`;
  document.body.classList.toggle('stale', !link.fresh);
}

function showNumbers(state) {
  const { gap } = state;
  text(at('title'), state.title);
  const place = state.place ? state.place.called : '';
  text(at('place'), state.place?.still_at ? `${place} (the head still hangs at ${state.place.still_at})` : place);
  // On the emitter, and of a level, the tilts are the number.
  const [main, ...others] = state.tilts.length ? state.tilts : [gap];
  text(at('gap'), main.digits);
  at('gap').className = `${main.is} ${main.digits.length > 5 ? 'long' : ''}`;
  text(at('unit'), main.unit);
  const called = state.tilts.length ? `${main.name} ` : '';
  const stands = main.is === 'good' ? judged(main.verdict) : `– ${main.why ?? 'no reading'}`;
  text(at('verdict'), link.fresh ? `${called}${stands}` : `◔ old number: ${linkHeard(link)}`);
  at('verdict').className = link.fresh ? verdictClass(main.verdict) : 'outside';
  text(at('beside'), others.map(({ name, digits, unit, verdict }) => `${name} ${digits} ${unit} ${judged(verdict)}`).join('; '));
}

// Whether the instruction has a turn in words: then it is said once. What is left of a turn by the gap
// changes, and the instruction does not; a turn that is counted stands in it as a whole.
function saidOf(state, turned) {
  return Boolean(turned) && !state.question && (!state.aim || state.instruction.includes(turned.turn.says));
}

const arrow = ({ turn }) => (turn.clockwise ? '↻' : '↺');

function showTurn(state) {
  const { aim } = state;
  at('dial').hidden = !aim;
  if (aim) {
    const way = aim.to_go_mm > 0 ? '▲' : '▼';
    const toGo = aim.to_go ? `${way} to ${aim.to}: ${aim.to_go} to go` : `to ${aim.to}: no good gap to go by`;
    text(at('dial-says'), aim.there ? `■ stop: it is ${aim.to}` : toGo);
    at('dial').classList.toggle('there', aim.there);
    at('dial-bar').style.width = `${(aim.share * 100).toFixed(1)}%`;
  }
  const turned = state.adjusters.find(({ turn }) => turn);
  at('turn').hidden = !turned || saidOf(state, turned);
  if (turned) text(at('turn'), `${arrow(turned)} ${turned.name}: ${turned.turn.says}${state.aim ? ' to go' : ''}`);
}

function showWhatToDo(state) {
  const asks = state.question ? state.question.asks : state.instruction;
  const turned = state.adjusters.find(({ turn }) => turn);
  const bare = saidOf(state, turned) && !asks.includes(arrow(turned));
  text(at('instruction'), bare ? `${arrow(turned)} ${asks}` : asks);
  // What the instruction says already is not said again.
  const trouble = state.trouble && !asks.includes(state.trouble.says) ? state.trouble : null;
  for (const [id, said] of [['trouble', trouble], ['message', state.message]]) {
    at(id).hidden = !said;
    if (said) {
      text(at(id), said.says);
      at(id).className = said.bad ? 'outside' : '';
    }
  }
  text(at('whole'), state.whole ? `${state.whole.verdict.shape} ${state.whole.headline}` : '');
  at('whole').className = verdictClass(state.whole?.verdict);
  const lengths = state.lengths.map(({ called, taped, now }) => `${now ? '▶' : taped ? '●' : '○'} ${called}: ${taped ?? '–'}`);
  list(at('lines'), 'p', [...lengths, ...state.lines]);
  list(at('cautions'), 'li', state.cautions);
}

// Work without a head has no number to show; it asks for a length, or lights up points.
function showWithoutHead(state) {
  const without = withoutHead(state);
  at('now').hidden = without;
  at('for-job').hidden = without;
  const acts = link.hello?.may === 'acts';
  const wanted = state.lengths.find(({ now }) => now);
  at('length-form').hidden = !wanted || !acts;
  if (wanted) {
    at('big').hidden = true;
    text(at('length-called'), wanted.called.charAt(0).toUpperCase() + wanted.called.slice(1));
    at('length').dataset.name = wanted.name;
    at('length').inputMode = units === 'mm' ? 'decimal' : 'text';
  }
}

function list(parent, name, says) {
  while (parent.children.length > says.length) parent.lastChild.remove();
  says.forEach((line, index) => {
    const child = parent.children[index] ?? parent.appendChild(document.createElement(name));
    text(child, line);
  });
}

// Buttons keep their place while their word stays: what is under a finger does not change.
function showWords(state) {
  const acts = link.hello?.may === 'acts';
  const can = acts && link.is !== 'lost' && link.is !== 'refused';
  at('answers').hidden = !state.question || !acts;
  at('big').hidden = Boolean(state.question) && acts;
  // Where a length is asked for, that is the large thing.
  const [first, ...others] = state.lengths.length || !leads(state.words[0]) ? [null, ...state.words] : state.words;
  text(at('big'), acts ? (first ? label(first) : state.state_says) : 'This page only looks');
  at('big').disabled = !can || !first;
  at('big').dataset.word = first ? JSON.stringify(first.word) : '';
  const shown = acts && !state.question ? others : [];
  const near = ({ word }) => word !== 'quit' && word !== 'yes' && word !== 'no' && word.go === undefined;
  showButtons(at('words'), shown.filter(near), can);
  // What is not wanted every minute, out of a glove's way.
  showButtons(at('rare'), shown.filter((offer) => !near(offer)), can);
}

function showButtons(parent, shown, can) {
  while (parent.children.length > shown.length) parent.lastChild.remove();
  shown.forEach((offer, index) => {
    let button = parent.children[index];
    if (!button) {
      button = document.createElement('button');
      button.type = 'button';
      button.addEventListener('click', () => press(button));
      parent.append(button);
    }
    text(button, label(offer));
    button.dataset.word = JSON.stringify(offer.word);
    button.disabled = !can;
  });
}

function show() {
  showLink();
  const { state } = link;
  if (link.is === 'refused' || (link.is === 'lost' && link.says)) refuse(link.says);
  if (state) {
    showNumbers(state);
    showTurn(state);
    showWhatToDo(state);
    showWords(state);
    showWithoutHead(state);
    announcer.hear(told(link, state));
    link.draws(state);
  }
  ear.changed();
}

let forget = 0;
function refuse(says) {
  text(at('refused'), says);
  at('refused').hidden = !says;
  clearTimeout(forget);
  if (says && link.is !== 'refused') forget = setTimeout(() => { at('refused').hidden = true; }, 6000);
}

async function press(button) {
  const { word } = button.dataset;
  if (!word) return;
  // Felt where there is such a thing; seen everywhere.
  navigator.vibrate?.(30);
  button.classList.add('pressed');
  refuse(await link.say(JSON.parse(word)));
  button.classList.remove('pressed');
}

at('big').addEventListener('click', () => press(at('big')));
at('yes').addEventListener('click', () => {
  at('yes').dataset.word = JSON.stringify(link.state?.question?.yes ?? 'yes');
  press(at('yes'));
});
at('no').dataset.word = '"no"';
at('no').addEventListener('click', () => press(at('no')));

at('note-form').addEventListener('submit', async (event) => {
  event.preventDefault();
  const note = at('note').value.trim();
  if (!note) return;
  const refused = await link.post('/note', { note });
  text(at('kept'), refused || 'The note went to the program.');
  if (!refused) at('note').value = '';
});

at('photo').addEventListener('change', async () => {
  const [file] = at('photo').files;
  if (!file) return;
  text(at('kept'), `Sending ${(file.size / 1e6).toFixed(1)} MB…`);
  const refused = file.size > 16 * 2 ** 20
    ? 'The picture is larger than 16 MB: choose a smaller size in the camera.'
    : await link.send('/photo', file, { 'Content-Type': file.type });
  text(at('kept'), refused || 'The photo went to the program, without the place in its data.');
  at('photo').value = '';
});

at('length-form').addEventListener('submit', async (event) => {
  event.preventDefault();
  const length = at('length').value.trim();
  if (!length) return;
  const refused = await link.post('/taped', { name: at('length').dataset.name, length });
  refuse(refused);
  if (!refused) at('length').value = '';
});

at('frame-form').addEventListener('submit', async (event) => {
  event.preventDefault();
  const frame = { whole: at('whole-frame').checked };
  for (const id of ['across', 'down']) {
    const taped = at(id).value.trim();
    if (taped) frame[id] = taped;
  }
  text(at('kept'), (await link.post('/frame', frame)) || 'What was taped went to the program.');
});

// Read when somebody wants to see them.
const steps = new Steps(link, () => listSteps(steps, {
  says: at('steps-says'), next: at('steps-next'), first: at('steps-first'), command: at('steps-command'), list: at('steps-list'),
}));
at('steps').addEventListener('toggle', () => steps.look(at('steps').open));
// Who has closed what hid the digits wants to see them.
for (const id of ['steps', 'more']) at(id).addEventListener('toggle', () => { if (!at(id).open) scrollTo(0, 0); });

at('tones').addEventListener('click', () => {
  ear.setTones(!ear.tones);
  at('tones').setAttribute('aria-pressed', String(ear.tones));
  text(at('tones'), `Tones: ${ear.tones ? 'on' : 'off'}`);
});
at('speech').addEventListener('click', () => {
  ear.setSpeech(!ear.speech);
  at('speech').setAttribute('aria-pressed', String(ear.speech));
  text(at('speech'), `Speech: ${ear.speech ? 'on' : 'off'}`);
});
at('volume').addEventListener('input', () => ear.setVolume(at('volume').value / 100));
at('voice').addEventListener('change', () => { ear.voice = at('voice').value; });
if (window.speechSynthesis) {
  const fill = () => {
    const voices = speechSynthesis.getVoices();
    at('voice').replaceChildren(
      new Option("the phone's own", ''),
      ...voices.map(({ name }) => new Option(name, name)),
    );
  };
  speechSynthesis.addEventListener?.('voiceschanged', fill);
  fill();
}

function setTheme(next) {
  theme = next;
  localStorage.setItem('theme', theme);
  document.documentElement.dataset.theme = theme;
  text(at('theme'), theme === 'dark' ? 'Light page' : 'Dark page');
}
at('theme').addEventListener('click', () => setTheme(theme === 'dark' ? 'light' : 'dark'));
setTheme(theme);

function nameUnits() {
  text(at('units'), units === 'mm' ? 'Show inches' : 'Show millimetres');
}
at('units').addEventListener('click', () => {
  units = units === 'mm' ? 'inch' : 'mm';
  localStorage.setItem('units', units);
  nameUnits();
  link.show(units);
});
nameUnits();

// The screen stays on where the browser lets a page ask for it (over http from another device none
// does: then the phone's own setting has to).
async function stayAwake() {
  try {
    await navigator.wakeLock?.request('screen');
  } catch {
    // Not allowed here.
  }
}
document.addEventListener('visibilitychange', () => { if (!document.hidden) stayAwake(); });
stayAwake();
