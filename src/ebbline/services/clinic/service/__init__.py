"""What the service itself works by: documents, settings, analysers, competence, export."""
