// The one place that speaks: what was done, and what changed for the lights.
//
// Invariant: at most one short sentence a second; of what changes faster only the last is said.

const PAUSE = 1000;

export class Voice {
  constructor(node) {
    this.node = node;
    this.waiting = new Map();
    this.free = 0;
    this.timer = null;
  }

  /** Says a sentence about a subject as soon as it may; a newer one about it takes its place. */
  say(subject, words) {
    this.waiting.delete(subject);
    this.waiting.set(subject, words);
    this.soon();
  }

  /** Forgets what was not said yet. */
  hush() {
    this.waiting.clear();
  }

  soon() {
    if (this.timer !== null || this.waiting.size === 0) return;
    const wait = Math.max(0, this.free - performance.now());
    this.timer = setTimeout(() => {
      this.timer = null;
      const [subject, words] = this.waiting.entries().next().value ?? [];
      if (subject === undefined) return;
      this.waiting.delete(subject);
      // Who listens hears one thing at a time; what piles up would only be late.
      if (this.waiting.size > 3) this.waiting.clear();
      this.free = performance.now() + PAUSE;
      this.node.textContent = words.length > 140 ? `${words.slice(0, 139)}…` : words;
      this.soon();
    }, wait);
  }
}
