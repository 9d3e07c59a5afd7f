import { Html, html } from "../../src/pages/html.js";

describe("markup of pages", () => {
	it("shows text as it stands, whatever signs it holds (WHATWG HTML, section 13.1.2: < & and quotes are escaped)", () => {
		const name = `<script>alert('1')</script> & "Ann"`;
		expect(html`<p title="${name}">${name}</p>`.text).toBe(
			'<p title="&#60;script&#62;alert(&#39;1&#39;)&#60;/script&#62; &#38; &#34;Ann&#34;">&#60;script&#62;alert(&#39;1&#39;)&#60;/script&#62; &#38; &#34;Ann&#34;</p>',
		);
	});

	it("takes markup inside markup, lists, numbers, and nothing where there is nothing", () => {
		const item = (n: number) => html`<li>${n}</li>`;
		expect(html`<ul>${[1, 2].map(item)}${false}${null}${undefined}${""}</ul>`.text).toBe("<ul><li>1</li><li>2</li></ul>");
		expect(html`${new Html("<b>x</b>")}`.text).toBe("<b>x</b>");
	});
});
