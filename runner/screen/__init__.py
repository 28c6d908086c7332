"""The full screen: glyphs, layout, theme, keys and entry are pure; Textual shows them."""
