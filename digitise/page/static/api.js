// Talking to the program on this machine. Addresses are relative: the token is part of the page's own.

export const windowName = crypto.randomUUID();

export class Refusal extends Error {
  constructor(status, answer) {
    super(answer.error ?? "The program did not answer as expected.");
    this.status = status;
    this.answer = answer;
  }
}

async function answered(response, signal) {
  let answer = {};
  try { answer = await response.json(); } catch { /* an empty or broken answer is worded below */ }
  signal?.throwIfAborted(); // called off after its first bytes had come: what came of it is no answer
  if (!response.ok) throw new Refusal(response.status, answer);
  return answer;
}

export async function get(path) {
  return answered(await reach(path, { headers: { accept: "application/json" } }));
}

export async function post(path, said, signal) {
  return answered(await reach(`do/${path}`, {
    method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(said ?? {}), signal,
  }), signal);
}

async function reach(path, options) {
  try {
    return await fetch(path, options);
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Refusal(0, { error: "The program no longer answers: is digitise correct still running?" });
  }
}

export function leave() {
  fetch(`do/ping?window=${windowName}&gone=1`, { method: "POST", keepalive: true }).catch(() => {});
}
