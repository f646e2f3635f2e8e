/* Runs once in each view of a bench; `this` is the picture that loaded. What ipywidgets leave open: names for sliders,
   joints that can be clicked, keys that choose one; and the page's own shortcuts stay off while a bench has the focus. */
const bench = this.closest('.rigkit-bench');
if (bench && !bench.dataset.lmSuppressShortcuts) {
  bench.dataset.lmSuppressShortcuts = 'true';
  const named = () => bench.querySelectorAll('.widget-slider').forEach(slider => {
    const label = slider.querySelector('.widget-label');
    const handle = slider.querySelector('.noUi-handle');
    if (label && handle && handle.getAttribute('aria-label') !== label.textContent)
      handle.setAttribute('aria-label', label.textContent);
  });
  named();
  new MutationObserver(named).observe(bench, {childList: true, subtree: true});
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
