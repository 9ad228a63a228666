"""The Streamlit app: thin pages over jobs; no arithmetic on a result."""
