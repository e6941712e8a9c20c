// On the page that asks to sign in: what this device has kept of a site for use without a network goes, since nobody is signed in. Who has
// just signed out wants no more notifications here either; the service hears of that from the push service.
if (window.caches) {
  caches.keys().then((names) => {
    for (const name of names) if (name.startsWith("hotday./")) caches.delete(name);
  }).catch(() => {});
}
if (new URLSearchParams(location.search).has("out")) {
  navigator.serviceWorker?.getRegistrations().then(async (list) => {
    for (const registration of list) await (await registration.pushManager?.getSubscription())?.unsubscribe();
  }).catch(() => {});
}
export {};
