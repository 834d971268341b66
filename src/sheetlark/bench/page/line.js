// The line to the bench: one socket, requests that come back as promises, news that anybody may hear.

const hearers = new Map();
const waiting = new Map();
let socket = null;
let next = 1;
let tries = 0;

export function hear(kind, hearer) {
  if (!hearers.has(kind)) hearers.set(kind, []);
  hearers.get(kind).push(hearer);
}

function tell(kind, message) {
  for (const hearer of hearers.get(kind) ?? []) hearer(message);
}

export function open() {
  socket = new WebSocket(`ws://${location.host}/line`);
  socket.addEventListener("open", () => { tries = 0; tell("line", { up: true }); });
  socket.addEventListener("close", () => {
    for (const { no } of waiting.values()) no({ says: "The line to the bench broke; this was not done.", lost: true });
    waiting.clear();
    tries += 1;
    asked().then((how) => { if (socket.readyState !== WebSocket.OPEN) tell("line", { up: false, how }); });
    setTimeout(open, Math.min(5000, 250 * 2 ** tries));
  });
  socket.addEventListener("message", (event) => {
    const message = JSON.parse(event.data);
    if (message.is === "done" || message.is === "error") {
      const asked = waiting.get(message.of);
      waiting.delete(message.of);
      if (!asked) return;
      if (message.is === "done") asked.yes(message);
      else asked.no(message);
      return;
    }
    tell(message.is, message);
  });
}

// Why there is no line: nobody answers ("gone"), or somebody who does not know this page ("anew").
async function asked() {
  try {
    const answer = await fetch("/page/mark.svg", { cache: "no-store" });
    return answer.status === 403 ? "anew" : "broken";
  } catch { return "gone"; }
}

// Ask for something; the promise is kept when it is done, or broken with {says, where}.
export function ask(request) {
  return new Promise((yes, no) => {
    if (!socket || socket.readyState !== WebSocket.OPEN) {
      no({ says: "There is no line to the bench just now.", lost: true });
      return;
    }
    const id = next++;
    waiting.set(id, { yes, no });
    socket.send(JSON.stringify({ ...request, id }));
  });
}
