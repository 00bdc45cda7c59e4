// @ts-check
/* Passkeys (W3C Web Authentication): the browser asks the device, the form carries its answer. Without this file the
   forms of passkeys stay hidden and passwords and codes do all. */
import { alarm } from "./notes.js";

/**
 * @param {string} text base64url
 * @returns {ArrayBuffer}
 */
function bytes(text) {
  const plain = atob(text.replace(/-/g, "+").replace(/_/g, "/"));
  return Uint8Array.from(plain, (one) => one.charCodeAt(0)).buffer;
}

/**
 * @param {ArrayBuffer} buffer
 * @returns {string} base64url
 */
function text(buffer) {
  const plain = String.fromCharCode(...new Uint8Array(buffer));
  return btoa(plain).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
}

/** @param {{id: string}[]|undefined} list */
const decodeIds = (list) => (list ?? []).map((/** @type {any} */ row) => ({ ...row, id: bytes(row.id) }));

/**
 * @param {any} options
 * @returns {Promise<any>}
 */
async function create(options) {
  const asked = {
    ...options,
    challenge: bytes(options.challenge),
    user: { ...options.user, id: bytes(options.user.id) },
    excludeCredentials: decodeIds(options.excludeCredentials),
  };
  asked.authenticatorSelection = {
    ...options.authenticatorSelection,
    residentKey: "required",
    requireResidentKey: true,
    userVerification: "required",
  };
  const made = /** @type {PublicKeyCredential} */ (await navigator.credentials.create({ publicKey: asked }));
  const answer = /** @type {any} */ (made.response); // newer than the compiler's list of the browser
  return {
    ...common(made),
    response: {
      clientDataJSON: text(answer.clientDataJSON),
      attestationObject: text(answer.attestationObject),
      transports: answer.getTransports?.() ?? [],
    },
  };
}

/**
 * @param {any} options
 * @returns {Promise<any>}
 */
async function get(options) {
  const asked = {
    ...options,
    challenge: bytes(options.challenge),
    allowCredentials: decodeIds(options.allowCredentials),
  };
  const found = /** @type {PublicKeyCredential} */ (await navigator.credentials.get({ publicKey: asked }));
  const answer = /** @type {AuthenticatorAssertionResponse} */ (found.response);
  return {
    ...common(found),
    response: {
      clientDataJSON: text(answer.clientDataJSON),
      authenticatorData: text(answer.authenticatorData),
      signature: text(answer.signature),
      userHandle: answer.userHandle ? text(answer.userHandle) : null,
    },
  };
}

/** @param {any} made */
const common = (made) => ({
  type: made.type,
  id: made.id,
  rawId: text(made.rawId),
  authenticatorAttachment: made.authenticatorAttachment,
  clientExtensionResults: { credProps: made.getClientExtensionResults().credProps },
});

/**
 * What the device is asked: fetched at the moment of pressing, or out of the page.
 * @param {HTMLFormElement} form
 */
async function fetchOptions(form) {
  if (!form.dataset.ask) return JSON.parse(form.dataset.options ?? "{}");
  const reply = await fetch(form.dataset.ask, { headers: { Accept: "application/json" }, cache: "no-store" });
  if (!reply.ok) throw new Error(`the school answered ${reply.status}`);
  return reply.json();
}

/** @param {unknown} fault */
function failureText(fault) {
  const name = fault instanceof DOMException ? fault.name : "";
  if (name === "NotAllowedError")
    return "No passkey was used: you cancelled, or the device has none for this school.";
  if (name === "InvalidStateError") return "This device already has a passkey for you.";
  if (name === "SecurityError")
    return (
      "Passkeys need the server’s name in the address and a secure connection;" +
      " on this machine http://localhost."
    );
  return `The passkey could not be used: ${fault instanceof Error ? fault.message : fault}.`;
}

for (const form of /** @type {NodeListOf<HTMLFormElement>} */ (document.querySelectorAll("form[data-passkey]"))) {
  if (!window.PublicKeyCredential) break;
  form.hidden = false;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const field = /** @type {HTMLInputElement} */ (form.elements.namedItem("credential"));
    try {
      const asked = await fetchOptions(form);
      field.value = JSON.stringify(
        form.dataset.passkey === "create"
          ? await create(asked.creation_options.publicKey)
          : await get(asked.request_options.publicKey),
      );
      form.submit();
    } catch (fault) {
      alarm(`${failureText(fault)} Nothing was changed.`);
    }
  });
}
