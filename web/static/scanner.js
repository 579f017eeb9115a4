// The scanner's test page: keys that a field would drop are put into it, Enter and Tab go on to the next field.

import { controlKey } from "./scanning.js";

const form = document.getElementById("scanner-test");
const fields = [form.elements.gs1, form.elements.matrix];

for (const [at, field] of fields.entries()) {
  field.addEventListener("keydown", (event) => {
    const sign = controlKey(event) || (event.key === "Tab" && field.value ? "\t" : "");
    if (sign) {
      event.preventDefault();
      field.setRangeText(sign, field.selectionStart, field.selectionEnd, "end");
      if (sign === "\t" && at === 0) fields[1].focus();
    }
    if (event.key === "Enter" && at === 0) {
      event.preventDefault();
      fields[1].focus();
    }
  });
}
