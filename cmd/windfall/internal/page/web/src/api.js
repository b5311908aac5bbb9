// The JSON API under the page: docs/api.yaml.

/** @typedef {import("./types").Fault} Fault */

/** An answer that is not what was asked for. */
export class Refusal extends Error {
  /** @param {number} status @param {any} body */
  constructor(status, body) {
    super(body?.fault?.message || body?.message || "the server answered " + status);
    this.status = status;
    this.body = body;
    /** @type {Fault | undefined} */
    this.fault = body?.fault;
  }
}

const gone = "the program does not answer; is it still running? Your changes are kept here";

/**
 * @param {string} method @param {string} path below /api/v1
 * @param {any} [body] @param {AbortSignal} [signal]
 * @returns {Promise<any>}
 */
export async function ask(method, path, body, signal) {
  /** @type {RequestInit} */
  const init = { method, signal, headers: { Accept: "application/json" } };
  if (body instanceof Blob) init.body = body;
  else if (body !== undefined) {
    init.body = JSON.stringify(body);
    init.headers = { ...init.headers, "Content-Type": "application/json" };
  }
  let res;
  try {
    res = await fetch("/api/v1/" + path, init);
  } catch (e) {
    if (signal?.aborted) throw e;
    throw new Refusal(0, { message: gone });
  }
  const text = await res.text();
  let answer = null;
  try {
    answer = text ? JSON.parse(text) : null;
  } catch {
    throw new Refusal(res.status, { message: text.slice(0, 200) });
  }
  if (!res.ok) throw new Refusal(res.status, answer);
  return answer;
}

/** @param {unknown} e @returns {boolean} */
export function aborted(e) { return e instanceof DOMException && e.name === "AbortError"; }

/**
 * Follows a stream of events until told to stop.
 * @param {string} path @param {Record<string, (data: any) => void>} on
 * @returns {() => void}
 */
export function follow(path, on) {
  const s = new EventSource("/api/v1/" + path);
  for (const [name, f] of Object.entries(on)) {
    s.addEventListener(name, (e) => f(JSON.parse(/** @type {MessageEvent} */ (e).data)));
  }
  return () => s.close();
}
