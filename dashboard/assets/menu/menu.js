// On a narrow screen the menu lies over the page. Streamlit remembers that it was open, so it would
// cover the page after a reload and in every new tab. Here it is open for one choice only.
const forgetThatItWasOpen = () => {
  for (const key of Object.keys(localStorage))
    if (key.startsWith("stSidebarCollapsed-")) localStorage.removeItem(key);
};

export default function menu() {
  forgetThatItWasOpen();
  // Streamlit has noted it by the time a click gets here; adding the same function again does nothing.
  document.addEventListener("click", forgetThatItWasOpen);
}
