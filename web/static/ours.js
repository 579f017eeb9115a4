// True for an answer that only our service gives. A login page or a portal's page, answered with 200, is not ours: its
// HTML must never get into a page.
export function isOurs(response) {
  return response.ok && response.type === "basic" && !response.redirected && response.headers.get("X-Service") === "receiving";
}
