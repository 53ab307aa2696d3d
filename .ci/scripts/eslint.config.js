import js from "@eslint/js";
import globals from "globals";

export default [
  js.configs.recommended,
  {
    languageOptions: { ecmaVersion: 2022, sourceType: "module", globals: { ...globals.browser, ...globals.worker } },
    rules: { eqeqeq: "error", "no-var": "error", "prefer-const": "error", "no-implicit-globals": "error", "no-eval": "error" },
  },
];
