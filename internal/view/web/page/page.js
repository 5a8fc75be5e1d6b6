// Sends what is tried as it is typed, and puts the answer in place: without this script the button does the same.
(() => {
	const form = document.getElementById("tried"), said = document.getElementById("said");
	if (!form) return;
	document.documentElement.classList.add("js");
	let asked = null; // the request under way; an earlier one is aborted, and a late reply never wins
	let entry = null; // the field whose change made the newest entry of the history
	let timer = 0, rest = 0; // until the answer is asked for, and, after a quick look, until all of it is
	const moving = "quick" in form.dataset ? "&moving=yes" : "";

	async function draw(address, {field = null, history: keep = false, all = false} = {}) {
		clearTimeout(timer);
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

	// place puts what is live on the answer's page where it stands on this one, and keeps focus, what is unfolded, and
	// how far tables were pulled aside. A field being typed in keeps its text, unless all are to be as the page says.
	function place(page, all) {
		const focus = document.activeElement;
		const open = [...document.querySelectorAll("details[open]")].map(d => d.id);
		const aside = [...document.querySelectorAll(".scroll")].map(e => e.scrollLeft);
		for (const now of form.elements) {
			const next = now.id && page.getElementById(now.id);
			if (!next) continue;
			if (next.getAttribute("aria-invalid")) now.setAttribute("aria-invalid", "true");
			else now.removeAttribute("aria-invalid");
			if (now === focus && !all) continue;
			if (now.type === "checkbox") now.checked = next.checked;
			else if (now.value !== next.value) now.value = next.value;
		}
		for (const next of page.querySelectorAll(".live[id]")) {
			const now = document.getElementById(next.id);
			if (now && now.outerHTML !== next.outerHTML) now.replaceWith(next);
		}
		for (const id of open) document.getElementById(id)?.setAttribute("open", "");
		document.querySelectorAll(".scroll").forEach((e, i) => { e.scrollLeft = aside[i] ?? 0; });
		if (document.activeElement !== focus && focus?.id) document.getElementById(focus.id)?.focus({preventScroll: true});
		document.title = page.title;
		const words = page.getElementById("said").textContent;
		if (said.textContent !== words) said.textContent = words;
	}

	const address = () => form.action.split("?")[0] + "?" + new URLSearchParams(new FormData(form));

	document.addEventListener("input", e => {
		if (e.target.form !== form) return;
		clearTimeout(timer);
		clearTimeout(rest);
		timer = setTimeout(() => draw(address() + moving, {field: e.target}), 60);
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
