// Runs the engine as the page's worker does, and writes what it records of a file.

const {readFileSync, writeFileSync} = require("fs"), {gunzipSync} = require("zlib"), {join} = require("path");

globalThis.progress = () => {};

async function recordFile({folder, source, made, stage, bias, level}) {
  const go = new Go();
  const {instance} = await WebAssembly.instantiate(gunzipSync(readFileSync(join(folder, "engine.wasm.gz"))), go.importObject);
  go.run(instance);
  const [sheet] = ask("describe", stage);
  const {file, load, ambient, drive} = sheet;
  const [, law] = ask("solve", {file, load, ambient, drive, mode: "bias", value: bias, level, quick: false});
  const [{rate}, ...audio] = ask("decode", source, [readFileSync(source)]);
  const [, sound] = ask("record", {rate, drive, controls: {level, monitor: "output"}}, [law, ...audio]);
  writeFileSync(made, sound);
}

recordFile(JSON.parse(process.argv[2])).then(() => process.exit(0), error => { console.error(error); process.exit(1); });
