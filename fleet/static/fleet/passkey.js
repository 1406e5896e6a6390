// Passkeys: the one thing here that only a script can do. Without it, password and code are asked for as ever.
(() => {
  "use strict";
  if (!window.PublicKeyCredential || !navigator.credentials) return;

  const bytes = (text) =>
    Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (character) => character.charCodeAt(0));
  const text = (buffer) =>
    btoa(String.fromCharCode(...new Uint8Array(buffer))).replaceAll("+", "-").replaceAll("/", "_").replace(/=+$/, "");

  const readable = (options) => {
    const found = { ...options, challenge: bytes(options.challenge) };
    if (found.user) found.user = { ...found.user, id: bytes(found.user.id) };
    for (const list of ["allowCredentials", "excludeCredentials"]) {
      if (found[list]) found[list] = found[list].map((row) => ({ ...row, id: bytes(row.id) }));
    }
    return found;
  };

  const sendable = (credential) => {
    const response = {};
    for (const name of ["clientDataJSON", "attestationObject", "authenticatorData", "signature", "userHandle"]) {
      if (credential.response[name]) response[name] = text(credential.response[name]);
    }
    if (credential.response.getTransports) response.transports = credential.response.getTransports();
    return {
      id: credential.id,
      rawId: text(credential.rawId),
      type: credential.type,
      authenticatorAttachment: credential.authenticatorAttachment,
      clientExtensionResults: credential.getClientExtensionResults(),
      response,
    };
  };

  const create = (options, form) => {
    const alone = form.elements.passwordless?.checked ?? false;
    const chosen = { ...options.authenticatorSelection };
    chosen.residentKey = alone ? "required" : "discouraged";
    chosen.requireResidentKey = alone;
    if (alone) chosen.userVerification = "required";
    return navigator.credentials.create({ publicKey: readable({ ...options, authenticatorSelection: chosen }) });
  };

  const optionsOf = async (form) => {
    const inPage = form.querySelector("#passkey_data");
    if (inPage) return JSON.parse(inPage.textContent);
    const answer = await fetch(form.action, { headers: { Accept: "application/json" } });
    if (!answer.ok) throw new Error("no passkey data");
    return answer.json();
  };

  const go = async (form) => {
    const failed = form.querySelector("[data-passkey-failed]");
    failed.hidden = true;
    try {
      const found = await optionsOf(form);
      const credential = found.creation_options
        ? await create(found.creation_options.publicKey, form)
        : await navigator.credentials.get({ publicKey: readable(found.request_options.publicKey) });
      form.elements.credential.value = JSON.stringify(sendable(credential));
      form.submit();
    } catch {
      failed.hidden = false;
    }
  };

  document.querySelectorAll("form[data-passkey]").forEach((form) => {
    const button = form.querySelector("[data-passkey-go]");
    button.hidden = false;
    form.querySelector("[data-passkey-needs]").hidden = true;
    button.addEventListener("click", () => go(form));
    form.addEventListener("submit", (event) => {
      if (form.elements.credential.value) return;
      event.preventDefault();
      go(form);
    });
  });
})();
