// @ts-check
// Colors for bright sun, or what the device says: this device keeps it, for the desk's pages too.
const COOKIE = "look=outdoor";

export const isOutdoor = () => document.cookie.split("; ").includes(COOKIE);

export function putOn() {
  const root = document.documentElement;
  if (isOutdoor()) root.dataset.look = "outdoor";
  else delete root.dataset.look;
}

export function change() {
  const age = isOutdoor() ? 0 : 365 * 24 * 3600;
  document.cookie = `${COOKIE}; path=/; max-age=${age}; samesite=lax${location.protocol === "https:" ? "; secure" : ""}`;
  putOn();
}
