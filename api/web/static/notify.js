// On the page of one's account: turns notifications of a shop on this device on and off. They need a secure context and a browser with
// push; the page says so where there is none.
import { Refusal, all, byID, data, one, pageData, reason, request, say, Stored } from "./page.js";

const usable = window.isSecureContext && "serviceWorker" in navigator && "PushManager" in window && "Notification" in window;

/**
 * registered returns the registration of a shop's service worker once it is active.
 * @param {string} root the shop's pages
 * @returns {Promise<ServiceWorkerRegistration>}
 */
async function registered(root) {
  const registration = await navigator.serviceWorker.register(root + "kitchen-worker.js", { scope: root });
  const coming = registration.installing ?? registration.waiting;
  if (!registration.active && coming) {
    await new Promise((resolve) => coming.addEventListener("statechange", () => { if (coming.state === "activated") resolve(null); }));
  }
  return registration;
}

/**
 * subscribed returns the browser's subscription with the service's key. One with another key, as from before the service lost its own, is of no use.
 * @param {PushManager} push
 */
async function subscribed(push) {
  const options = { userVisibleOnly: true, applicationServerKey: pageData.key };
  try {
    return await push.subscribe(options);
  } catch (error) {
    const old = await push.getSubscription();
    if (!old) throw error;
    await old.unsubscribe();
    return push.subscribe(options);
  }
}

/** @param {HTMLElement} row of a shop */
async function offer(row) {
  const site = data(row).notify, root = "/s/" + encodeURIComponent(site) + "/";
  const button = one(row, "button", HTMLButtonElement), state = one(row, ".state");
  /** @type {Stored<string>} ID of this device at the service */
  const device = new Stored("hotday.device." + site);
  const subscription = async () => (await navigator.serviceWorker.getRegistration(root))?.pushManager.getSubscription();
  let on = Boolean((await subscription()) && device.value && data(row).devices.split(" ").includes(device.value));

  const show = (/** @type {string} */ text) => {
    state.textContent = text;
    button.textContent = say(on ? "off" : "on");
    button.setAttribute("aria-label", say(on ? "off_at" : "on_at", { site: data(row).name }));
  };
  const turnOn = async () => {
    if ((await Notification.requestPermission()) !== "granted") return say("blocked");
    const { endpoint, keys } = (await subscribed((await registered(root)).pushManager)).toJSON();
    device.value = (await request("POST", "/v1/sites/" + encodeURIComponent(site) + "/push-devices", { json: { endpoint, keys } })).id;
    on = true;
    return say("is_on");
  };
  const turnOff = async () => {
    await request("DELETE", "/v1/push-devices/" + device.value).catch((error) => { if (!(error instanceof Refusal) || error.status !== 404) throw error; });
    await (await subscription())?.unsubscribe();
    device.value = null;
    on = false;
    return say("is_off");
  };
  button.addEventListener("click", async () => {
    button.disabled = true;
    let text = "";
    try {
      text = await (on ? turnOff() : turnOn());
    } catch (error) {
      text = error instanceof DOMException ? say("failed") : reason(error);
    }
    button.disabled = false;
    show(text);
  });
  show(Notification.permission === "denied" ? say("blocked") : say(on ? "is_on" : "is_off"));
  button.hidden = false;
}

if (usable) {
  byID("notify-not").hidden = true;
  for (const row of all(document, "[data-notify]")) offer(row).catch(() => { byID("notify-not").hidden = false; });
}
