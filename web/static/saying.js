// One line at the end of a form that says what became of it.

export function say(form, sentence, role = "status") {
  let line = form.querySelector(":scope > .form-said");
  if (!line) {
    line = document.createElement("p");
    line.className = "form-said notice";
    line.setAttribute("role", role);
    form.append(line);
  }
  line.textContent = sentence;
}
