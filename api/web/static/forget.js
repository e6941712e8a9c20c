// On the page that asks to sign in: what this device has kept of a site for use without a network goes, since nobody is signed in.
if (window.caches) {
  caches.keys().then((names) => {
    for (const name of names) if (name.startsWith("hotday./")) caches.delete(name);
  }).catch(() => {});
}
export {};
