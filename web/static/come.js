// A link for store staff: what stands behind the # goes into the form, out of the address, and is sent; where a person
// is signed in, whom it would sign out, the form waits for the button.
import { forgetPages } from "./keeping.js";

const form = document.querySelector("form[data-come]");
const secret = location.hash.slice(1);

if (secret) {
  form.elements.secret.value = secret;
  history.replaceState(null, "", location.pathname);
  if (form.dataset.come === "sends") forgetPages().catch(() => {}).finally(() => form.submit());
}
