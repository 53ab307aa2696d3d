// Passkeys: the form asks the server for a question, the device answers it, and the answer goes with the form.
const bytes = (text) => Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (letter) => letter.charCodeAt(0));
const text = (buffer) =>
  btoa(String.fromCharCode(...new Uint8Array(buffer))).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");

const question = async (form) => {
  const token = form.querySelector("[name=csrfmiddlewaretoken]").value;
  const answer = await fetch(form.dataset.question, { method: "POST", headers: { "X-CSRFToken": token } });
  if (!answer.ok) throw new Error("no question");
  const asked = await answer.json();
  asked.challenge = bytes(asked.challenge);
  if (asked.user) asked.user.id = bytes(asked.user.id);
  for (const known of asked.excludeCredentials ?? []) known.id = bytes(known.id);
  for (const known of asked.allowCredentials ?? []) known.id = bytes(known.id);
  return asked;
};

const plain = (made) => {
  const { response } = made;
  const said = { clientDataJSON: text(response.clientDataJSON) };
  if (response.attestationObject) said.attestationObject = text(response.attestationObject);
  if (response.authenticatorData) said.authenticatorData = text(response.authenticatorData);
  if (response.signature) said.signature = text(response.signature);
  if (response.userHandle) said.userHandle = text(response.userHandle);
  return JSON.stringify({ id: made.id, rawId: text(made.rawId), type: made.type, response: said, clientExtensionResults: {} });
};

for (const form of document.querySelectorAll("form[data-passkey]")) {
  if (!window.PublicKeyCredential) continue;
  form.hidden = false;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const said = document.querySelector("[data-passkey-said]");
    try {
      const publicKey = await question(form);
      const made = await navigator.credentials[form.dataset.passkey]({ publicKey });
      let field = form.querySelector("[name=answer]");
      if (!field) {
        field = Object.assign(document.createElement("input"), { type: "hidden", name: "answer" });
        form.append(field);
      }
      field.value = plain(made);
      form.submit();
    } catch {
      if (said) said.textContent = "Nothing happened: the device gave no passkey. Try again, or use another way.";
    }
  });
}
