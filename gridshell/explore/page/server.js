// Asking the server. Answers that can't be given come back as problems, never as exceptions.

export class Refused extends Error {
  constructor(status, content) {
    super(content.problems?.map((p) => p.message).join("; ") ?? "refused");
    this.status = status;
    this.content = content;
  }
}

async function opened(response, binary) {
  if (response.ok) return binary ? response.arrayBuffer() : response.json();
  let content;
  try { content = await response.json(); } catch { content = { problems: [{ path: "", message: response.statusText }] }; }
  throw new Refused(response.status, content);
}

export async function get(address, binary = false) {
  return opened(await fetch(address), binary);
}

export async function post(address, content, binary = false) {
  return opened(await fetch(address, {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(content),
  }), binary);
}

// Keeps at most one request going; what comes meanwhile waits, and only the newest of it is sent.
export class Latest {
  constructor(work) {
    this.work = work;
    this.going = false;
    this.next = null;
  }

  async call(content) {
    if (this.going) { this.next = content; return; }
    this.going = true;
    try {
      await this.work(content);
    } finally {
      this.going = false;
      const next = this.next;
      this.next = null;
      if (next !== null) this.call(next);
    }
  }
}

// What to show while nobody answers. Asks every second; `back` is called when the server is there
// again. A server that was started anew does not know this page: its printed address must be opened.
export class Gone {
  constructor(node, back) {
    Object.assign(this, { node, back, timer: 0 });
  }

  begin(strange = false) {
    this.node.hidden = false;
    this.node.textContent = strange
      ? "'gridshell explore' was started anew. Open the address that it printed; what you have set is kept in this page's address."
      : "gridshell explore does not answer: the numbers below are old. What you have set is kept; this page goes on when the command runs again with the same --port.";
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.ask(), 1000);
  }

  async ask() {
    try {
      await get("/alive");
      this.node.hidden = true;
      this.back();
    } catch (error) { this.begin(error.status === 403); }
  }
}
