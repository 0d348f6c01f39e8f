/** Calls of the service. Every answer's `Date` sets the clock; every action carries a key, so that a retry is safe. */
import { dateHeaderS } from "./clock.js";
import { parsed } from "./json.js";

const READ_TIMEOUT_MS = 2500;
const WRITE_TIMEOUT_MS = 3000;
/** An action is about now: it is tried again for a few seconds and then given back to the person. */
const RETRY_PAUSES_MS = [300, 900];
const TOKEN = "fillmark-token";

/** The service answered, and refused. */
export class RefusedError extends Error {
  /**
   * @param {number} status
   * @param {any} problem parsed body, null when it was none
   */
  constructor(status, problem) {
    super(problem?.detail ?? problem?.title ?? `The service answered ${status}.`);
    this.status = status;
    this.problem = problem;
  }
}

/** No answer came. */
export class SilentError extends Error {}

/**
 * A key that nobody else makes. randomUUID is missing on plain http from another host; getRandomValues is not.
 * @param {Pick<Crypto, "getRandomValues"> & Partial<Pick<Crypto, "randomUUID">>} source
 */
export function freshKey(source) {
  if (typeof source.randomUUID === "function") return source.randomUUID();
  const bytes = source.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

export class Api {
  /** @param {import("./clock.js").ServerClock} clock */
  constructor(clock) {
    this.clock = clock;
  }

  /** @param {string} token */
  setToken(token) {
    sessionStorage.setItem(TOKEN, token);
  }

  /**
   * @param {string} path
   * @returns {Promise<any>}
   */
  async get(path) {
    return this.once(path, { headers: { Accept: "application/json" }, cache: "no-store" }, READ_TIMEOUT_MS);
  }

  /**
   * @param {string} path
   * @param {unknown} body
   * @returns {Promise<any>}
   */
  async post(path, body) {
    const token = sessionStorage.getItem(TOKEN);
    const request = {
      method: "POST",
      headers: {
        "Content-Type": "application/json",
        "Idempotency-Key": freshKey(crypto),
        ...(token ? { Authorization: `Bearer ${token}` } : {}),
      },
      body: JSON.stringify(body),
    };
    for (const pause of [...RETRY_PAUSES_MS, null]) {
      try {
        return await this.once(path, request, WRITE_TIMEOUT_MS);
      } catch (error) {
        const again = error instanceof SilentError || (error instanceof RefusedError && error.status >= 500);
        if (!again || pause === null) throw error;
        await new Promise((resolve) => setTimeout(resolve, pause));
      }
    }
    return null;
  }

  /**
   * @param {string} path
   * @param {RequestInit} request
   * @param {number} timeoutMs
   */
  async once(path, request, timeoutMs) {
    const stopper = new AbortController();
    const timer = setTimeout(() => stopper.abort(), timeoutMs);
    try {
      const answer = await fetch(path, { ...request, signal: stopper.signal });
      const text = await answer.text();
      this.clock.take(dateHeaderS(answer.headers.get("Date")));
      const body = parsed(text);
      if (!answer.ok) throw new RefusedError(answer.status, body);
      return body;
    } catch (error) {
      if (error instanceof RefusedError) throw error;
      throw new SilentError("The service does not answer.");
    } finally {
      clearTimeout(timer);
    }
  }
}
