// A table of fields is filled like a spreadsheet: rows that are pasted into a cell fill those to its right and below, and
// a row is copied into the next that is blank. Without this script each cell is typed.
(() => {
	const fields = cell => [...cell.querySelectorAll("input, select")];
	const put = (cell, text) => {
		for (const f of fields(cell)) {
			const mine = words => words.some(w => w.trim().toLowerCase() === text.toLowerCase());
			if (f.type === "checkbox") {
				const label = f.closest("label").textContent;
				f.checked = text.split(/[;,]/).some(w => [f.value, label].some(x => x.trim().toLowerCase() === w.trim().toLowerCase()));
			} else if (f.tagName === "SELECT") {
				let option = [...f.options].find(o => mine([o.value, o.text]));
				if (!option) f.add(option = new Option(text, text)); // nothing is lost: the answer says what is allowed
				option.selected = true;
			} else f.value = text;
		}
	};
	const named = row => row.querySelector("input").value.trim() !== "";
	const another = body => {
		const last = body.lastElementChild, n = body.children.length + 1, row = last.cloneNode(true);
		for (const e of row.querySelectorAll("[name], [id]")) {
			if (e.name) e.name = e.name.replace(/^\d+\./, n + ".");
			if (e.id) e.id = e.id.replace(/^b-\d+-/, "b-" + n + "-");
		}
		for (const cell of row.children) put(cell, "");
		return body.appendChild(row);
	};
	document.querySelectorAll("[data-copy]").forEach(b => { b.hidden = false; });
	document.addEventListener("click", e => {
		const row = e.target.closest?.("[data-copy]")?.closest("tr");
		if (!row) return;
		const body = row.parentElement, to = [...body.children].find(r => !named(r)) ?? another(body);
		[...row.children].forEach((cell, i) => fields(cell).forEach((f, k) => {
			const g = fields(to.children[i])[k];
			if (f.type === "checkbox") g.checked = f.checked;
			else put(to.children[i], i ? f.value : f.value + " 2");
		}));
		fields(to.children[0])[0].focus();
	});
	document.addEventListener("paste", e => {
		const cell = e.target.closest?.("[data-rows] tbody > tr > *");
		const text = e.clipboardData?.getData("text/plain").replace(/\r\n?/g, "\n").replace(/\n$/, "") ?? "";
		if (!cell || !/[\t\n]/.test(text)) return;
		e.preventDefault();
		let row = cell.parentElement;
		const body = row.parentElement, first = [...row.children].indexOf(cell);
		for (const line of text.split("\n")) {
			row ??= another(body);
			line.split("\t").forEach((word, i) => { if (row.children[first + i]) put(row.children[first + i], word.trim()); });
			row = row.nextElementSibling;
		}
	});
})();

// A figure that stands whole needs no click for the rest of it, and its foot does not fade.
const whole = () => document.querySelectorAll(".drawn > .more").forEach(more => {
	const figure = more.parentElement.querySelector("figure");
	more.toggleAttribute("data-whole", !more.open && figure.scrollHeight <= figure.clientHeight + 1);
});
addEventListener("load", whole);
addEventListener("resize", whole);

// Sends what is tried as it is typed, and puts the answer in place: without this script the button does the same.
(() => {
	const form = document.getElementById("tried"), said = document.getElementById("said");
	if (!form) return;
	document.documentElement.classList.add("js");
	const blanks = document.getElementById("blanks"); // on a phone folded, unless something is tried
	if (blanks && matchMedia("(max-width: 52rem)").matches && !document.querySelector("#changed .changed, #changed .fault")) blanks.open = false;
	let asked = null; // the request under way; an earlier one is aborted, and a late reply never wins
	let entry = null; // the field whose change made the newest entry of the history
	let timer = 0, rest = 0, typed = -Infinity; // until the answer is asked for, and all of it; the last key pressed
	const moving = "quick" in form.dataset ? "&moving=yes" : "";

	async function draw(address, {field = null, history: keep = false, all = false} = {}) {
		timer = clearTimeout(timer);
		if (!moving || !address.endsWith(moving)) clearTimeout(rest);
		asked?.abort();
		const mine = asked = new AbortController();
		document.body.classList.add("waiting");
		try {
			const reply = await fetch(address, {signal: mine.signal});
			const text = await reply.text();
			if (mine !== asked) return;
			if (reply.status !== 200 && reply.status !== 422) throw new Error(reply.statusText);
			document.body.classList.remove("lost");
			place(new DOMParser().parseFromString(text, "text/html"), all);
			const here = reply.url.replace(/([?&])moving=yes(&|$)/, (_, a, b) => b ? a : "");
			if (reply.status === 200 && !keep && here !== location.href) {
				history[field && field === entry ? "replaceState" : "pushState"](null, "", here);
				entry = field;
			}
		} catch (fault) {
			if (mine !== asked || fault.name === "AbortError") return;
			said.textContent = said.dataset.lost;
			document.body.classList.add("lost");
		} finally {
			if (mine === asked) document.body.classList.remove("waiting");
		}
	}

	// change makes a part of this page what it is on the answer's, and leaves alone what is the same.
	function change(now, next) {
		if (now.isEqualNode(next)) return;
		if (!now.firstElementChild || now.childNodes.length !== next.childNodes.length ||
			!now.cloneNode(false).isEqualNode(next.cloneNode(false))) return now.replaceWith(next);
		const ahead = [...next.childNodes];
		[...now.childNodes].forEach((child, i) => change(child, ahead[i]));
	}

	// place puts what is live on the answer's page where it stands on this one, and keeps focus, what is unfolded, and
	// how far tables were pulled aside. What is being typed keeps its text, unless all are to be as the page says.
	function place(page, all) {
		const focus = document.activeElement;
		const open = [...document.querySelectorAll("details[open]")].map(d => d.id);
		const aside = [...document.querySelectorAll(".scroll")].map(e => e.scrollLeft);
		for (const now of form.elements) {
			const next = now.id && page.getElementById(now.id);
			if (!next) continue;
			if (next.getAttribute("aria-invalid")) now.setAttribute("aria-invalid", "true");
			else now.removeAttribute("aria-invalid");
			if ((timer || now === focus) && !all) continue;
			if (now.type === "checkbox") now.checked = next.checked;
			else if (now.value !== next.value) now.value = next.value;
		}
		for (const next of page.querySelectorAll(".live[id]")) {
			const now = document.getElementById(next.id);
			if (now) change(now, next);
		}
		for (const id of open) document.getElementById(id)?.setAttribute("open", "");
		document.querySelectorAll(".scroll").forEach((e, i) => { e.scrollLeft = aside[i] ?? 0; });
		if (document.activeElement !== focus && focus?.id) document.getElementById(focus.id)?.focus({preventScroll: true});
		whole();
		document.title = page.title;
		const words = page.getElementById("said").textContent;
		if (said.textContent !== words) said.textContent = words;
	}

	const address = () => form.action.split("?")[0] + "?" + new URLSearchParams(new FormData(form));

	document.addEventListener("input", e => {
		if (e.target.form !== form) return;
		clearTimeout(timer);
		clearTimeout(rest);
		// The first key is asked at once; while typing goes on there is a pause after each.
		timer = setTimeout(() => draw(address() + moving, {field: e.target}), e.timeStamp - typed < 300 ? 60 : 0);
		typed = e.timeStamp;
		if (moving) rest = setTimeout(() => draw(address(), {field: e.target}), 450);
	});
	document.addEventListener("focusin", e => { if (e.target !== entry) entry = null; });
	form.addEventListener("submit", e => {
		if (e.submitter?.formMethod === "post") return; // what is tried is to be kept
		e.preventDefault();
		draw(address(), {field: document.activeElement});
	});
	document.addEventListener("click", e => {
		const link = e.target.closest?.("a[data-try]");
		if (!link || e.ctrlKey || e.metaKey || e.shiftKey || e.altKey) return;
		e.preventDefault();
		const field = document.getElementById(link.dataset.try);
		(field?.matches("form") ? field.querySelector("input[type=text], select, input[type=checkbox]") : field)?.focus();
		draw(link.href, {all: true});
	});
	addEventListener("popstate", () => {
		entry = null;
		draw(location.href, {history: true, all: true});
	});
})();
