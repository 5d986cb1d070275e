// What this screen tells the room, in the order in which it was done.
//
// Invariants: one order is on its way at a time, so none overtakes another; of moments that are
// asked for one after the other, while the room is still busy, only the newest goes there.

export class Orders {
  /** `send(path, body)` takes an order to the server and answers with what came of it. */
  constructor(send) {
    this.send = send;
    this.waiting = [];
    this.isBusy = false;
  }

  /** Has something done after everything that was asked for before; answers as `send` does. */
  give(path, body) {
    const order = { path, body };
    const last = this.waiting.at(-1);
    if (last !== undefined && isMoment(last) && isMoment(order)) {
      last.body = body;
      return last.answer;
    }
    order.answer = new Promise((take, fail) => Object.assign(order, { take, fail }));
    this.waiting.push(order);
    if (!this.isBusy) this.work();
    return order.answer;
  }

  async work() {
    this.isBusy = true;
    while (this.waiting.length > 0) {
      const order = this.waiting.shift();
      try {
        order.take(await this.send(order.path, order.body));
      } catch (error) {
        order.fail(error);
      }
    }
    this.isBusy = false;
  }
}

/** Whether an order asks for a moment and for nothing else. */
const isMoment = ({ path, body }) => path === "/api/clock" && Object.keys(body).join() === "to";
