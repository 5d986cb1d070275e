// Talks to the machine that runs the room.
//
// Invariant: nothing is asked of any other host.

/** How long to wait before a stream is asked for again, in ms. */
const AGAIN = 2000;

/** What the server would not do, in its own words. */
export class Refused extends Error {
  constructor(status, answer) {
    super(answer.message ?? `the server answered ${status}`);
    this.status = status;
    this.hint = answer.hint ?? "";
  }
}

/** Asks for something. */
export async function ask(path) {
  return answer(await reach(path, { headers: { Accept: "application/json" } }));
}

/** Asks for plain text. */
export async function askText(path) {
  const response = await reach(path);
  if (!response.ok) return answer(response);
  return response.text();
}

/** Tells the server to do something. */
export async function tell(path, body) {
  const response = await reach(path, {
    method: "POST",
    headers: { "Content-Type": "application/json", "X-Roomrig": "1" },
    body: JSON.stringify(body),
  });
  return answer(response);
}

async function reach(path, options) {
  try {
    return await fetch(path, { credentials: "same-origin", cache: "no-store", ...options });
  } catch {
    throw new Refused(0, { message: "the machine that runs the room does not answer", hint: "is `roomrig live` still running?" });
  }
}

async function answer(response) {
  const text = await response.text();
  let body = {};
  try {
    body = text === "" ? {} : JSON.parse(text);
  } catch {
    body = { message: text.slice(0, 300) };
  }
  if (!response.ok) throw new Refused(response.status, body);
  return body;
}

/** Follows what moves; `heard` gets each kind of event by its name, `broken` whether it is cut. */
export function follow(heard, broken) {
  const stream = new EventSource("/api/stream");
  for (const [name, take] of Object.entries(heard)) {
    stream.addEventListener(name, (event) => take(JSON.parse(event.data)));
  }
  stream.onopen = () => broken(false);
  stream.onerror = () => {
    broken(true);
    // Browsers give up on what was answered with anything but a stream.
    if (stream.readyState === EventSource.CLOSED) setTimeout(() => follow(heard, broken), AGAIN);
  };
}
