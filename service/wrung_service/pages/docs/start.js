// The default validator is a public address, and shop networks are closed.
SwaggerUIBundle({
  url: "../openapi.json",
  dom_id: "#document",
  deepLinking: true,
  validatorUrl: null,
});
