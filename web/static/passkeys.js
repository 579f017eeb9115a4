// Passkeys: a form with data-passkey asks the service for a challenge, lets the browser answer it, and sends the answer.

import { say } from "./saying.js";
import { WORDS } from "./words.js";

const fromText = (text) => Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (c) => c.charCodeAt(0));
const toText = (buffer) => btoa(String.fromCharCode(...new Uint8Array(buffer))).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");

// What the service sends, with its base64url texts as bytes (Web Authentication, level 3, 5.1.8 and 5.1.9).
function optionsOf(sent) {
  const ids = (list) => (list ?? []).map((each) => ({ ...each, id: fromText(each.id) }));
  const options = { ...sent, challenge: fromText(sent.challenge) };
  if (sent.user) options.user = { ...sent.user, id: fromText(sent.user.id) };
  if (sent.excludeCredentials) options.excludeCredentials = ids(sent.excludeCredentials);
  if (sent.allowCredentials) options.allowCredentials = ids(sent.allowCredentials);
  return options;
}

// What the browser answers, as text.
function answerOf(credential) {
  const response = {};
  for (const name of ["clientDataJSON", "attestationObject", "authenticatorData", "signature", "userHandle"]) {
    if (credential.response[name]) response[name] = toText(credential.response[name]);
  }
  return JSON.stringify({ id: credential.id, rawId: toText(credential.rawId), type: credential.type, response, clientExtensionResults: {} });
}

async function answer(form) {
  const token = form.elements.token.value;
  const asked = await fetch(form.dataset.passkey, { method: "POST", headers: { "X-Token": token }, credentials: "same-origin" });
  if (!asked.ok) throw new Error(String(asked.status));
  const options = optionsOf(await asked.json());
  const adds = "rp" in options;
  const credential = await navigator.credentials[adds ? "create" : "get"]({ publicKey: options });
  form.elements.credential.value = answerOf(credential);
  form.submit();
}

for (const form of document.querySelectorAll("form[data-passkey]")) {
  form.hidden = !("credentials" in navigator && "PublicKeyCredential" in window);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    answer(form).catch((fault) => say(form, fault.message === "403" ? WORDS.signedInLongAgo : WORDS.noPasskey, "alert"));
  });
}
