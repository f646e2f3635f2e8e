/* Runs once in each view of a bench; `this` is the picture that loaded. What ipywidgets leave open: names for sliders
   and for play and stop, whether a button is pressed in, joints that can be clicked, keys that choose one. Letters
   typed in a bench are no shortcuts of the page: there x would cut the cell away with the bench in it. */
const bench = this.closest('.rigkit-bench');
if (!window.rigkitKeys) {
  window.rigkitKeys = true;
  const withKey = event => event.ctrlKey || event.metaKey || event.altKey;
  window.addEventListener('keydown', event => {  // the page asks the element itself; saving and the like stay
    const here = event.target, kept = !withKey(event) || /^[yz]$/i.test(event.key);
    if (here.closest && here.closest('.rigkit-bench')) here.toggleAttribute('data-lm-suppress-shortcuts', kept);
  }, true);
}
if (bench && !bench.dataset.rigkitReady) {
  bench.dataset.rigkitReady = 'true';
  const set = (element, name, value) => {
    if (element && element.getAttribute(name) !== value) element.setAttribute(name, value);
  };
  const tell = () => {
    bench.querySelectorAll('.widget-slider').forEach(slider => {
      const label = slider.querySelector('.widget-label');
      if (label) set(slider.querySelector('.noUi-handle'), 'aria-label', label.textContent);
    });
    bench.querySelectorAll('.widget-toggle-button').forEach(button =>
      set(button, 'aria-pressed', String(button.classList.contains('mod-active'))));
    bench.querySelectorAll('.widget-play button').forEach(button => {
      const [, word] = /fa-(play|pause|stop)/.exec(button.innerHTML) || [];
      if (word) set(button, 'aria-label', word);
    });
    const words = bench.querySelector('.widget-html-content > [role=status]');
    if (words) {  // what is told must live on for a screen reader to hear that it changed
      set(words.parentElement, 'role', 'status');
      words.removeAttribute('role');
    }
  };
  tell();
  new MutationObserver(tell).observe(bench, {childList: true, subtree: true, attributeFilter: ['class']});
  const choose = number => {
    const box = bench.querySelector('.rigkit-choice');
    const list = box && box.querySelector('select');
    if (list && number < list.options.length) {
      list.selectedIndex = number;
      list.dispatchEvent(new Event('change', {bubbles: true}));
    } else if (box && !list) {
      const buttons = box.querySelectorAll('button');
      if (number < buttons.length) buttons[number].click();
    }
  };
  bench.addEventListener('click', event => {
    const joint = event.target.closest('[data-joint]');
    if (joint) choose(Number(joint.dataset.joint));
  });
  bench.addEventListener('keydown', event => {
    const typing = event.target.closest('input, textarea, select');
    if (!typing && !event.ctrlKey && !event.metaKey && !event.altKey && /^[1-9]$/.test(event.key))
      choose(Number(event.key) - 1);
  });
}
