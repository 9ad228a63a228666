"""The way in and out: plain pages of our own beside Streamlit's, because only an HTTP answer can set a cookie."""
