// The board page's keys for words.

import { leads } from './link.js';

// Keys, as in the terminal: those that mean something now, the most important first.
const KEYS = { take: 'space', ready: 'space', begin: 'g', redo: 'r', more: 'm', next: '↓', back: '↑', skip: 'k', clear: 'c', other: 'o', yes: 'enter', no: 'n', quit: 'q' };
export const PRESSED = { ' ': 'space', Enter: 'enter', ArrowDown: '↓', ArrowUp: '↑', ArrowRight: '↓', ArrowLeft: '↑' };

function keyOf(word) {
  return typeof word === 'string' ? KEYS[word] : word && 'turned' in word ? 'x' : undefined;
}

export function keysNow(state) {
  return state.words
    .map(({ word, does }) => [keyOf(word), does, word])
    .filter(([key]) => key);
}

export function wordOf(key, state) {
  if (state.question) {
    if (key === 'enter') return state.question.yes;
    return key === 'n' ? 'no' : undefined;
  }
  const offers = keysNow(state);
  if (key === 'enter') return leads(state.words[0]) ? offers[0]?.[2] : undefined;
  return offers.find(([own]) => own === key)?.[2];
}
