"""Records of sentences, tables and charts, and what turns them into sheets."""
