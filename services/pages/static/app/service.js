// The service's answers. Every error becomes a Problem with a plain sentence and, where the service gives one, a cure.

export class Problem extends Error {
  // body: the whole problem document (RFC 9457), with the versions of a conflict.
  constructor(title, detail, status, errors, body = null) {
    super(title);
    this.body = body;
    this.detail = detail ?? "";
    this.status = status;
    this.errors = errors ?? [];
  }
}

export const LOST = "The service does not answer. What you typed is kept; the page will try again.";

async function answered(response) {
  if (response.status === 204) return null;
  const text = await response.text();
  let body = null;
  try {
    body = JSON.parse(text);
  } catch {
    body = null;
  }
  if (response.ok && body !== null) return body;
  const title = body?.title ?? `The service answered ${response.status}`;
  throw new Problem(title, body?.detail ?? "", response.status, body?.errors, body);
}

export async function ask(path, { method = "GET", body, file, signal, headers = {} } = {}) {
  const options = { method, signal, headers: { Accept: "application/json", ...headers } };
  if (file) {
    options.body = file;
    options.headers["Content-Type"] = "application/octet-stream";
    options.headers["Content-Disposition"] = `attachment; filename*=UTF-8''${encodeURIComponent(file.name)}`;
  } else if (body !== undefined) {
    options.body = JSON.stringify(body);
    options.headers["Content-Type"] = "application/json";
  }
  let response;
  try {
    response = await fetch(path, options);
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Problem(LOST, "", 0);
  }
  return answered(response);
}
