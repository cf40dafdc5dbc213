// Judges on a thread of its own: the first message holds the engine's bytes, every other one a question.

let exports;
const [writer, reader] = [new TextEncoder(), new TextDecoder()];

const ask = (question) => {
  const bytes = writer.encode(JSON.stringify(question));
  const at = exports.room(bytes.length);
  new Uint8Array(exports.memory.buffer, at, bytes.length).set(bytes);
  const length = exports.ask();
  return JSON.parse(reader.decode(new Uint8Array(exports.memory.buffer, exports.place(), length)));
};

addEventListener("message", async ({ data: { number, engine, question } }) => {
  try {
    if (engine !== undefined) exports = (await WebAssembly.instantiate(engine, {})).instance.exports;
    postMessage({ number, answer: question === undefined ? {} : ask(question) });
  } catch (error) {
    postMessage({ number, answer: { refused: String(error) } });
  }
});
