"use strict";
// Shows the document. Everything is put in as text, so nothing in it can become markup.
function element(name, properties, ...children) {
    const made = Object.assign(document.createElement(name), properties);
    made.append(...children.filter((child) => child !== null && child !== undefined));
    return made;
}
let components = {};
function resolved(thing) {
    if (!thing?.$ref) return thing ?? {};
    return thing.$ref.slice(2).split("/").reduce((at, part) => at?.[part], { components }) ?? {};
}
const nameOf = (schema) => schema?.$ref?.split("/").pop();

function kind(schema) {
    const own = resolved(schema);
    const parts = [nameOf(schema) ?? [own.type ?? ""].flat().join(" or ")];
    if (own.enum) parts.push(own.enum.map((word) => JSON.stringify(word)).join(", "));
    if (own.const !== undefined) parts.push(JSON.stringify(own.const));
    if (own.minimum !== undefined || own.maximum !== undefined) parts.push(`${own.minimum ?? "…"} to ${own.maximum ?? "…"}`);
    if (own.maxLength !== undefined) parts.push(`${own.minLength ?? 0} to ${own.maxLength} characters`);
    if (own.maxItems !== undefined) parts.push(`${own.minItems ?? 0} to ${own.maxItems} items`);
    return parts.filter(Boolean).join("; ");
}

/** A schema as a tree; a schema within itself is named and not opened again. */
function tree(schema, above = []) {
    const own = resolved(schema), name = nameOf(schema);
    if (name && above.includes(name)) return element("span", { className: "quiet" }, `again ${name}`);
    const path = name ? [...above, name] : above;
    for (const choice of ["oneOf", "anyOf", "allOf"]) {
        if (own[choice]) {
            const words = { oneOf: "one of", anyOf: "any of", allOf: "all of" }[choice];
            return element("div", {}, words, element("ul", { className: "schema" },
                ...own[choice].map((one) => element("li", {}, tree(one, path)))));
        }
    }
    if (own.properties) {
        return element("ul", { className: "schema" }, ...Object.entries(own.properties).map(([field, inner]) => {
            const shown = resolved(inner), has = shown.properties || shown.oneOf || shown.anyOf || shown.allOf || shown.items;
            const head = [element("code", {}, field), own.required?.includes(field) ? "" : " (may be left out)", " ",
                element("span", { className: "quiet" }, kind(inner)), " ", inner.description ?? shown.description ?? ""];
            return has ? element("li", {}, element("details", {}, element("summary", {}, ...head), tree(inner, path)))
                : element("li", {}, ...head);
        }));
    }
    if (own.items) return element("div", {}, "list of ", tree(own.items, path));
    return element("span", {}, kind(schema), " ", own.description ?? "");
}

function example(value) {
    const text = typeof value === "string" ? value : JSON.stringify(value, null, 2);
    return value === undefined ? null : element("details", {}, element("summary", {}, "Example"), element("pre", {}, text));
}
function content(of) {
    return Object.entries(of?.content ?? {}).map(([media, { schema, example: shown }]) =>
        element("div", {}, element("code", {}, media), tree(schema), example(shown)));
}
function table(titles, rows) {
    const line = (tag, cells) => element("tr", {}, ...cells.map((cell) => element(tag, {}, ...[cell].flat())));
    return rows.length ? element("table", {}, line("th", titles), ...rows.map((row) => line("td", row))) : null;
}
function operation(method, path, described) {
    const parameters = (described.parameters ?? []).map(resolved).map((one) =>
        [element("code", {}, one.name), one.in + (one.required ? "" : ", may be left out"), kind(one.schema), one.description ?? ""]);
    const answers = Object.entries(described.responses ?? {}).map(([status, answer]) => {
        const own = resolved(answer);
        return [status, [own.description ?? "", ...(status < 300 ? content(own) : [])]];
    });
    const asks = described["x-roles"] ? `Scope ${described["x-scope"]}; for ${described["x-roles"].join(", ")}.` : "For anybody.";
    const shown = element("details", { className: `operation ${described.deprecated ? "deprecated" : ""}`, id: described.operationId });
    shown.append(element("summary", {}, element("span", { className: "method" }, method.toUpperCase()),
        element("span", { className: "path" }, path), " ", described.summary ?? ""));
    // Filled when it is opened: the document has more than a hundred.
    shown.addEventListener("toggle", () => {
        if (!shown.open || shown.childElementCount > 1) return;
        shown.append(...[element("p", {}, described.description ?? ""), element("p", { className: "quiet" }, asks),
            table(["Parameter", "In", "Kind", ""], parameters),
            described.requestBody ? element("h4", {}, "Body") : null, ...content(described.requestBody),
            element("h4", {}, "Answers"), table(["Status", ""], answers)].filter(Boolean));
    });
    return shown;
}

const wanted = document.getElementById("wanted"), place = document.getElementById("operations");
fetch("/openapi.json").then((answer) => answer.json()).then((read) => {
    components = read.components;
    document.getElementById("title").textContent = read.info.title;
    document.getElementById("about").textContent = read.info.description;
    const groups = new Map((read.tags ?? []).map((tag) => [tag.name, { tag, members: [] }]));
    for (const [path, item] of Object.entries(read.paths)) {
        for (const [method, described] of Object.entries(item)) {
            const tag = described.tags?.[0] ?? "";
            if (!groups.has(tag)) groups.set(tag, { tag: { name: tag }, members: [] });
            const text = [method, path, described.operationId, described.summary, described.description, tag].join(" ").toLowerCase();
            groups.get(tag).members.push({ text, shown: operation(method, path, described) });
        }
    }
    place.replaceChildren(...[...groups.values()].filter((group) => group.members.length).map((group) => {
        group.section = element("section", {}, element("h2", {}, group.tag.name), element("p", {}, group.tag.description ?? ""),
            ...group.members.map((member) => member.shown));
        return group.section;
    }));
    wanted.addEventListener("input", () => {
        const words = wanted.value.toLowerCase().split(/\s+/).filter(Boolean);
        for (const group of groups.values()) {
            let any = false;
            for (const member of group.members) {
                member.shown.hidden = !words.every((word) => member.text.includes(word));
                any ||= !member.shown.hidden;
            }
            if (group.section) group.section.hidden = !any;
        }
    });
    const named = location.hash && document.getElementById(location.hash.slice(1));
    if (named) { named.open = true; named.scrollIntoView(); }
}).catch((error) => { place.textContent = `The document could not be read: ${error}`; });
