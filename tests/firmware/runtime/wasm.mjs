// Runs a Python file on the 32-bit MicroPython that npm ships as WebAssembly.
//
// Arguments: its micropython.mjs, firmware folder, Python file, file for its first argument's content, file to write, further
// arguments. Inside, the file sees /firmware, /source and /sink as its first three arguments; what it prints goes to standard output.

import { readFileSync, readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const HEAP_BYTES = 16 * 1024 * 1024;
// The build asks the table of functions at every call that may raise. Remembered in JavaScript, its entries make steps almost twice as
// fast; none changes after the start.
const fetched = WebAssembly.Table.prototype.get;
const entries = [];
WebAssembly.Table.prototype.get = function (place) {
    return (entries[place] ??= fetched.call(this, place));
};
const [library, firmware, program, source, sink, ...rest] = process.argv.slice(2);
const { loadMicroPython } = await import(pathToFileURL(library));
const micropython = await loadMicroPython({ heapsize: HEAP_BYTES, stdout: console.log, linebuffer: true });

function copyModules(from, to) {
    micropython.FS.mkdir(to);
    for (const entry of readdirSync(from, { withFileTypes: true })) {
        if (entry.isDirectory() && entry.name !== "__pycache__") {
            copyModules(join(from, entry.name), `${to}/${entry.name}`);
        } else if (entry.name.endsWith(".py") || entry.name.endsWith(".mpy")) {
            micropython.FS.writeFile(`${to}/${entry.name}`, readFileSync(join(from, entry.name)));
        }
    }
}

copyModules(firmware, "/firmware");
micropython.FS.writeFile("/source", readFileSync(source));
const argv = [program, "/firmware", "/source", "/sink", ...rest];
micropython.runPython(`import sys\nsys.argv[:] = ${JSON.stringify(argv)}\n`);
micropython.runPython(readFileSync(program, "utf8"));
// This build collects garbage only between two runs: what weighs memory does so in a second one.
micropython.runPython("if 'finish' in globals():\n    finish()\n");
writeFileSync(sink, micropython.FS.readFile("/sink"));
