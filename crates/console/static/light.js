// The bright kitchen, before anything is drawn. Without script the system's own wish for more contrast does it.
try {
  if (localStorage.getItem("light") === "bright") document.documentElement.classList.add("bright");
} catch {
  // A browser that keeps nothing shows what the system wishes.
}
