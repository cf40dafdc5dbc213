// Two ways to do the same: by mouse, and by keyboard alone. Each knows how to press, write, choose and tick.

/** Presses with the pointer, writes where it pressed. */
export const byMouse = (page) => ({
  page,
  press: (what) => what.click(),
  write: async (field, text) => {
    await field.click();
    await field.fill(text);
  },
  choose: (list, label) => list.selectOption({ label }),
  // By its words, as people do: on a phone the box itself lies under them.
  tick: async (box) => {
    if (!(await box.isChecked())) await box.locator("xpath=ancestor::label").click();
  },
  pick: (radio) => radio.locator("xpath=ancestor::label").click(),
});

/** No more stops than this on a page. */
const STOPS = 600;

/** Never touches the pointer: goes on by Tab until it stands where it wants to be. */
export const byKeyboard = (page) => {
  const { keyboard } = page;
  const isThere = (what) => what.evaluate((element) => element === document.activeElement);
  const go = async (what) => {
    await what.waitFor();
    for (let stop = 0; stop < STOPS; stop += 1) {
      if (await isThere(what)) return;
      await keyboard.press("Tab");
    }
    throw new Error(`no Tab leads to ${what}`);
  };
  return {
    page,
    press: async (what) => {
      await go(what);
      await keyboard.press("Enter");
    },
    write: async (field, text) => {
      await go(field);
      await keyboard.press("ControlOrMeta+a");
      await keyboard.type(text);
    },
    choose: async (list, label) => {
      await go(list);
      const labels = await list.locator("option").allTextContents();
      const at = labels.findIndex((option) => option.trim() === label);
      if (at < 0) throw new Error(`${label} is not among ${labels.join(" | ")}`);
      await keyboard.press("Home");
      for (let step = 0; step < at; step += 1) await keyboard.press("ArrowDown");
    },
    tick: async (box) => {
      await go(box);
      if (!(await box.isChecked())) await keyboard.press("Space");
    },
    // One stop a group; the arrows go round in it.
    pick: async (radio) => {
      const name = await radio.getAttribute("name");
      const isInGroup = () => page.evaluate((name) => document.activeElement?.name === name, name);
      for (let stop = 0; stop < STOPS && !(await isInGroup()); stop += 1) await keyboard.press("Tab");
      await keyboard.press("Space");
      for (let step = 0; step < 20 && !(await radio.isChecked()); step += 1) await keyboard.press("ArrowDown");
      if (!(await radio.isChecked())) throw new Error(`no arrow leads to ${radio}`);
    },
  };
};
